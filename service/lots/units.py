"""What happens to the units of a lot: lost, rejected, repacked, split off."""

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.core.errors import Invalid
from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.lots import queries, rules
from service.lots.actions import close_when_empty, enter_tub, gain, refuse, take
from service.lots.models import Contact, Loss, Lot, Stay
from service.lots.moves import named_tub
from service.lots.rules import LossCause, Repacking, RepackKind, State, UnitOfSale
from service.lots.rules_strata import after_repacking

INHERITED = (
    "plant_id",
    "supplier_id",
    "shipment_id",
    "returned_from_id",
    "away_since",
    "state",
    "state_since",
    "unit_of_sale",
    "stems_per_bunch",
    "untied",
    "kept_in_wool",
    "strata",
    "supplier_treatment_unknown",
    "bag",
    "received_at",
    "tub_id",
    "repacked_at",
    "sealed_since",
    "opened_at",
    "cleared_at",
    "cleared_by",
    "certificate_serial",
    "good_until",
    "clock_started_at",
)


def lose(session: Session, act: Act, lot: Lot, *, quantity: int, cause: LossCause, note: str | None) -> None:
    """Write off units of a locked lot with their cause; raises Refused `not-enough-left`."""
    not_before(act.at, lot.received_at, "its receipt")
    lost = Loss(lot_id=lot.id, quantity=quantity, cause=cause.value, note=note, at=act.at, by=act.by)
    lost.there = lot.left
    session.add(lost)
    take(
        session,
        act,
        lot,
        quantity=quantity,
        into="lost",
        kind="lot.lost",
        after={"cause": cause.value, "note": note},
    )


def reject(session: Session, act: Act, lot: Lot, *, quantity: int, way: str, reason: str) -> None:
    """Destroy or return all that is left of a locked lot; what was reserved of it is freed.

    Raises Refused when `quantity` is not what is left.
    """
    refuse(lot, rules.ended_reasons(State(lot.state)) or rules.rejection_reasons(quantity, lot.left))
    not_before(act.at, lot.received_at, "its receipt")
    after = {"way": way, "reason": reason, "reserved_freed": lot.reserved}
    lot.reserved = 0
    take(session, act, lot, quantity=quantity, into="disposed", kind="lot.rejected", after=after)


def repack(
    session: Session,
    act: Act,
    lot: Lot,
    *,
    kind: RepackKind,
    from_quantity: int,
    to_quantity: int,
    to_unit_of_sale: str | None,
    stems_per_bunch: int | None,
) -> None:
    """Make other units of a locked lot's units, or correct a miscount. The clock stays.

    Anything but a recount makes units that nobody has looked at: a full look is owed since then.
    """
    unit = to_unit_of_sale or lot.unit_of_sale
    asked = Repacking(kind, from_quantity, to_quantity, unit_changes=unit != lot.unit_of_sale)
    _check_form(asked, unit, stems_per_bunch)
    refuse(lot, rules.lock_reasons(regulated_lock=lot.regulated_lock))
    refuse(lot, rules.repack_reasons(asked, State(lot.state), sealed=lot.sealed_since is not None))
    refuse(lot, rules.repack_count_reasons(asked, left=lot.left, reserved=lot.reserved))
    not_before(act.at, lot.received_at, "its receipt")
    before = {"left": lot.left, "unit_of_sale": lot.unit_of_sale, "stems_per_bunch": lot.stems_per_bunch}
    gain(lot, units=asked.after - asked.before)
    if kind is not RepackKind.RECOUNT:
        lot.repacked_at, lot.strata = act.at, after_repacking(lot.strata)
    if asked.unit_changes or stems_per_bunch is not None:
        lot.unit_of_sale, lot.stems_per_bunch, lot.untied = unit, stems_per_bunch, False
    after = {
        "kind": kind.value,
        "from_quantity": asked.before,
        "to_quantity": asked.after,
        "left": lot.left,
        "unit_of_sale": unit,
        "stems_per_bunch": lot.stems_per_bunch,
    }
    record(session, act, "lot.repacked", [lot], before=before, after=after)
    close_when_empty(session, act, lot)


def split(
    session: Session,
    act: Act,
    lot: Lot,
    *,
    quantity: int,
    tub_id: str | None,
    share_water: bool,
    reason: str | None,
) -> Lot:
    """Split units off a locked lot; the child takes over clock, stays, contacts and looks so far.

    Raises Refused for a lot that is held, locked, in treatment or too small, and as `enter_tub` when
    the child goes to another tub. A cleared lot's certificates follow by reaction to `lot.split`.
    """
    state = State(lot.state)
    stops = rules.stop_reasons(queries.hold_causes(session, lot.id), regulated_lock=lot.regulated_lock)
    refuse(lot, rules.ended_reasons(state) + rules.treated_reasons(state) + stops)
    refuse(lot, rules.take_reasons(quantity, left=lot.left, reserved=lot.reserved))
    stays = queries.stays_of(session, [lot.id])[lot.id]
    for moment in (lot.received_at, *(stay.left_at or stay.entered_at for stay in stays)):
        not_before(act.at, moment, "its last move")
    tub = named_tub(session, tub_id)
    child = _child(session, act, lot, quantity)
    after = {"child_id": child.id, "child": child.code, "reason": reason}
    take(session, act, lot, quantity=quantity, into="split_off", kind="lot.split", about=[child], after=after)
    if tub is not None:
        enter_tub(session, act, [child], tub, share_water=share_water)
    return child


def _check_form(asked: Repacking, unit: str, stems_per_bunch: int | None) -> None:
    if asked.kind is RepackKind.RECOUNT and asked.unit_changes:
        raise Invalid.at("#/to_unit_of_sale", "A recount keeps the unit of sale.")
    if asked.kind is not RepackKind.RECOUNT and asked.after == 0:
        raise Invalid.at("#/to_quantity", "Only a recount can find nothing.")
    if stems_per_bunch is not None and unit != UnitOfSale.BUNCH:
        raise Invalid.at("#/stems_per_bunch", "Only bunches have stems.")


def _child(session: Session, act: Act, lot: Lot, quantity: int) -> Lot:
    children = session.scalar(select(func.count()).where(Lot.parent_lot_id == lot.id)) or 0
    child = Lot(
        **{name: getattr(lot, name) for name in INHERITED},
        code=rules.child_code(lot.code, children),
        parent_lot_id=lot.id,
        split_at=act.at,
        received=quantity,
        left=quantity,
    )
    session.add(child)
    session.flush()
    for stay in queries.stays_of(session, [lot.id])[lot.id]:
        session.add(
            Stay(
                lot_id=child.id,
                tub_id=stay.tub_id,
                entered_at=stay.entered_at,
                left_at=stay.left_at,
                shared=stay.shared,
            )
        )
    for contact in queries.contacts_of(session, [lot.id])[lot.id]:
        session.add(
            Contact(
                lot_id=child.id,
                at=contact.at,
                way=contact.way,
                tub_id=contact.tub_id,
                touched_at=contact.touched_at,
            )
        )
    session.flush()
    return child
