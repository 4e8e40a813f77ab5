"""What clearance does when something happens below: it takes back what can no longer be stated."""

from collections.abc import Collection

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from service.clearance.actions import divide_certificate, end_certificate, withdraw
from service.clearance.models import Certificate
from service.clearance.rejudging import shaken
from service.clearance.standing import look_again
from service.journal.actions import Note
from service.lots.models import Lot
from service.lots.rules import State
from service.lots.sharing import reach_since_clock
from service.quarantine.queries import restarted, within_reach


def on_find(session: Session, note: Note) -> None:
    """A live find ("inspection.found_live"): no certificate of water it shared since a clock began stands.

    Lots of which nothing is left are among them: customers still hold their certificates.
    """
    found = _lots(note)
    reached = {
        lot.id for lot in [*found, *reach_since_clock(session, {lot.id for lot in found}, note.act.now)]
    }
    others = _may_have_one(session, within_reach(session, found) - reached)
    locked = _locked(session, reached | others)
    moved = restarted(session, [lot for lot in locked if lot.id in others], note.act.at)
    for lot in locked:
        if lot.id in reached | moved:
            withdraw(session, note.act, lot, "A live pest was found in this lot or in water it shared.")


def on_water_shared(session: Session, note: Note) -> None:
    """Waters came together ("lot.water_shared"): cleared lots in them are no longer what was looked at."""
    for lot in _locked(session, {lot.id for lot in _lots(note)}):
        if lot.state == State.CLEARED:
            withdraw(session, note.act, lot, "Its water came together with other water.")


def on_state_changed(session: Session, note: Note) -> None:
    """A cleared lot goes back or is rejected ("lot.state_changed"): its certificate ends with it."""
    if note.before["state"] == State.CLEARED and note.after["state"] in {State.IN_QUARANTINE, State.REJECTED}:
        for lot in _lots(note):
            end_certificate(session, note.act, lot, note.after["why"])


def on_looked(session: Session, note: Note) -> None:
    """A look was made or voided ("inspection.recorded", "inspection.voided"): how long are they good now."""
    look_again(session, _lots(note), max(note.act.at, note.act.now))


def on_voided(session: Session, note: Note) -> None:
    """A look was voided ("inspection.voided"): a clearance that would not stand without it is taken back."""
    if not note.after["clean"]:
        return  # a voided find takes nothing away from what was seen
    for lot, shut in list(shaken(session, _lots(note), note.after["at"])):
        withdraw(session, note.act, lot, f"A look that its clearance rested on was voided. {shut[0].reason}")


def on_split(session: Session, note: Note) -> None:
    """A lot was split ("lot.split", about parent and child): a cleared one's certificate is divided."""
    parent, child = _lots(note)
    if parent.state == State.CLEARED:
        divide_certificate(session, note.act, parent, child)


def _lots(note: Note) -> list[Lot]:
    return [thing for thing in note.about if isinstance(thing, Lot)]


def _locked(session: Session, ids: Collection[str]) -> list[Lot]:
    wanted = select(Lot).where(Lot.id.in_(ids)).order_by(Lot.id).with_for_update()
    return list(session.scalars(wanted.execution_options(populate_existing=True)))


def _may_have_one(session: Session, ids: Collection[str]) -> set[str]:
    """Those that have a certificate, and those that somebody may be deciding on at this moment."""
    certified = select(Certificate.lot_id).where(Certificate.status == "valid")
    near = or_(Lot.state == State.IN_QUARANTINE.value, Lot.id.in_(certified))
    return set(session.scalars(select(Lot.id).where(Lot.id.in_(ids), near)))
