"""What trials do when lots of theirs are treated, mixed or let go elsewhere: they refuse what spoils them."""

from sqlalchemy.orm import Session

from service.core.errors import Refused
from service.core.reasons import Reason
from service.journal.actions import Note
from service.lots.models import Lot
from service.lots.queries import hold_causes
from service.lots.rules import TRIAL, State
from service.lots.stays import JOINED_WATER
from service.protocols.queries import version_by_id
from service.treatments.models import Treatment
from service.trials import queries, rules


def on_treatment_planned(session: Session, note: Note) -> None:
    """A lot of an open trial gets its arm's protocol, with the lots of its tub alone; raises Refused.

    The hold of a trial lets treatments through for this check's sake: without an open trial it stops them.
    """
    lots = [thing for thing in note.about if isinstance(thing, Lot)]
    [treatment] = [thing for thing in note.about if isinstance(thing, Treatment)]
    of_trial = queries.open_trials_of(session, [lot.id for lot in lots])
    protocol, version = version_by_id(session, treatment.protocol_version_id)
    reasons: list[Reason] = []
    for lot in lots:
        if lot.id not in of_trial:
            if TRIAL in hold_causes(session, lot.id):
                detail = f"Lot {lot.code}: The lot is on hold: {TRIAL}."
                reasons.append(Reason("open-hold", detail, have=TRIAL))
            continue
        _, arm, tub = of_trial[lot.id]
        others = [o.code for o in lots if o.id not in of_trial or of_trial[o.id][2] != tub]
        reasons += rules.treatment_reasons(
            lot.code,
            arm=arm.code,
            arm_version=arm.protocol_version_id,
            version=version.id,
            method=protocol.method,
            others_in_it=others,
        )
    Refused.unless_empty(reasons[0].code if reasons else "", reasons)


def on_water_shared(session: Session, note: Note) -> None:
    """No other lot comes into a trial's water on purpose; what a tool did is only told in the result."""
    if note.after.get("way") != JOINED_WATER:
        return
    lots = [thing for thing in note.about if isinstance(thing, Lot)]
    of_trial = queries.open_trials_of(session, [lot.id for lot in lots])
    tubs = {tub for _, _, tub in of_trial.values()}
    if not tubs or (len(tubs) == 1 and len(of_trial) == len(lots)):
        return
    codes = ", ".join(sorted(lot.code for lot in lots if lot.id in of_trial))
    detail = f"{codes} are in a trial: no other lot may share that water. Use another tub."
    raise Refused("trial-water", detail)


def on_hold_lifted(session: Session, note: Note) -> None:
    """The hold of an open trial ends with the trial; raises Refused."""
    if note.before.get("cause") == TRIAL:
        _refuse_open(session, note)


def on_state_changed(session: Session, note: Note) -> None:
    """No lot of an open trial is cleared, whoever overrides its gates; raises Refused."""
    if note.after.get("state") == State.CLEARED:
        _refuse_open(session, note)


def _refuse_open(session: Session, note: Note) -> None:
    of_trial = queries.open_trials_of(session, [thing.id for thing in note.about if isinstance(thing, Lot)])
    for trial, _, _ in of_trial.values():
        detail = f"Trial {trial.name} is open: close it, and its lots go on by the regular gates."
        raise Refused("trial-open", detail)
