"""Closing a trial: its lots go on by the regular gates."""

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.lots.holds import lift_hold
from service.lots.models import Hold, Lot
from service.lots.rules import TRIAL
from service.trials.models import Trial
from service.trials.observing import refuse_closed
from service.trials.queries import Layout, observations_of


def close_trial(session: Session, act: Act, found: tuple[Trial, Layout], *, conclusion: str) -> None:
    """Close a locked trial, early or at its end, and lift its holds; raises Refused when it is closed."""
    trial, layout = found
    refuse_closed(trial)
    last = max([trial.starts_at, *(look.at for look in observations_of(session, trial.id))])
    not_before(act.at, last, "what was observed")
    trial.closed_at, trial.closed_by, trial.conclusion = act.at, act.by, conclusion
    session.flush()
    wanted = select(Hold).where(
        Hold.lot_id.in_(layout.lot_ids), Hold.cause == TRIAL, Hold.lifted_at.is_(None)
    )
    for hold in session.scalars(wanted.order_by(Hold.lot_id)).all():
        reason = f"Trial {trial.name} is closed."
        lift_hold(session, act, session.get_one(Lot, hold.lot_id), hold, reason=reason)
    record(session, act, "trial.closed", [trial], after={"conclusion": conclusion})
