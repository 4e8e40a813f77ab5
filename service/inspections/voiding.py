"""Voiding looks that were wrong: by a new entry with the reason, never by a change."""

from collections.abc import Collection, Sequence

from sqlalchemy.orm import Session

from service.accounts.queries import same_person
from service.core.errors import Refused
from service.inspections import queries, rules
from service.inspections.models import Inspection
from service.journal.actions import record
from service.journal.acts import Act
from service.lots.actions import lock_water_group
from service.lots.models import Lot
from service.lots.queries import split_off_since
from service.tubs.models import Tub


def void_look(session: Session, act: Act, inspection_id: str, reason: str) -> Inspection:
    """Void a look: it counts no more, and what followed is judged again by the rooms above.

    Raises Refused when it is void already, or holds a regulated find and the same person recorded it;
    somebody else's voiding lifts the lock of the lots that no other such find concerns.
    """
    looked_at = queries.inspection_by_id(session, inspection_id).at
    concerned = queries.lots_about(session, [inspection_id])
    concerned |= split_off_since(session, concerned, looked_at)  # they took the look along
    lots = [lot for lot in lock_water_group(session, concerned) if lot.id in concerned]
    inspection = queries.inspection_by_id(session, inspection_id, lock=True)
    notifiable = queries.pests(session).notifiable
    regulated = rules.found_alive(queries.findings_of(session, [inspection_id])[inspection_id], notifiable)
    reasons = rules.void_reasons(
        voided=inspection.voided_at is not None,
        regulated=regulated,
        same_person=same_person(session, inspection.by, act.by),
    )
    Refused.unless_empty(reasons[0].code if reasons else "", reasons)
    _break_seal(session, inspection, lots)
    inspection.voided_at, inspection.voided_by, inspection.void_reason = act.at, act.by, reason
    session.flush()
    if regulated:
        _unlock(session, lots, notifiable)
    tubs = [session.get_one(Tub, inspection.tub_id)] if inspection.tub_id else []
    after = {
        "inspection_id": inspection.id,
        "at": inspection.at,
        "clean": inspection.clean,
        "regulated": regulated,
        "reason": reason,
    }
    record(session, act, "inspection.voided", [inspection, *lots, *tubs], after=after)
    return inspection


def _break_seal(session: Session, inspection: Inspection, lots: Sequence[Lot]) -> None:
    """Cups count as sealed no longer when no other look found them so."""
    if inspection.method != rules.LookMethod.SEALED_CUP:
        return
    looks = queries.looks_of(session, [lot.id for lot in lots])
    for lot in lots:
        others = [
            look.at
            for look in looks[lot.id]
            if look.method == inspection.method and look.inspection_id != inspection.id
        ]
        lot.sealed_since = min(others, default=None) if lot.opened_at is None else None


def _unlock(session: Session, lots: Sequence[Lot], notifiable: Collection[str]) -> None:
    others = queries.lots_about(session, queries.looks_that_found(session, notifiable))
    for lot in lots:
        lot.regulated_lock = lot.regulated_lock and lot.id in others
