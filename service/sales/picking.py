"""Which lots stand for an order: named ones, or those of a plant that were cleared first."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from sqlalchemy import select, tuple_
from sqlalchemy.orm import Session

from service.clearance.models import Certificate
from service.core.errors import Invalid, Refused
from service.core.reasons import Reason
from service.journal.acts import Act, not_before
from service.lots.actions import lock_water_group
from service.lots.models import Lot
from service.lots.queries import hold_causes, ready
from service.sales.rules import Good, dispatch_reasons
from service.sales.rules_reservations import Offer, allocate

Asked = Mapping[str, Any]  # lot_id, or plant_id and unit_of_sale; quantity
Part = tuple[str, int]  # a lot and so many units of it
NOTHING: Mapping[str, int] = {}


def lock_for(session: Session, act: Act, lines: Sequence[Asked], also: Iterable[str] = ()) -> dict[str, Lot]:
    """Lock every lot that the lines name or that could stand for one of them, by id. Raises Invalid."""
    named = {line["lot_id"] for line in lines if line["lot_id"] is not None}
    known = set(session.scalars(select(Lot.id).where(Lot.id.in_(named))))
    for n, line in enumerate(lines):
        if line["lot_id"] is not None and line["lot_id"] not in known:
            raise Invalid.at(f"#/lines/{n}/lot_id", "There is no such lot.", code="unknown-lot")
    kinds = {_kind(line) for line in lines if line["lot_id"] is None}
    fitting = select(Lot.id).where(ready(act.at), tuple_(Lot.plant_id, Lot.unit_of_sale).in_(kinds))
    wanted = named | set(also) | (set(session.scalars(fitting)) if kinds else set())
    return {lot.id: lot for lot in lock_water_group(session, sorted(wanted))}


def pick(
    session: Session,
    act: Act,
    lines: Sequence[Asked],
    lots: Mapping[str, Lot],
    promised: Mapping[str, int] = NOTHING,
) -> list[Part]:
    """The units of locked lots for each line in turn; what is `promised` to this very order counts as free.

    Raises Refused with a reason for every line that cannot be served.
    """
    free = Counter({lot.id: lot.left - lot.reserved + promised.get(lot.id, 0) for lot in lots.values()})
    named: Counter[str] = Counter()
    for line in lines:
        if line["lot_id"] is not None:
            named[line["lot_id"]] += line["quantity"]
    _refuse_named(session, act, named, lots, free)
    free.subtract(named)
    parts: list[Part] = []
    missing: list[Reason] = []
    for n, line in enumerate(lines):
        given = (
            [(line["lot_id"], line["quantity"])]
            if line["lot_id"]
            else _fitting(session, act, line, lots, free)
        )
        if line["lot_id"] is None:
            free.subtract(dict(given))
            missing += _missing(n, line, sum(units for _, units in given))
        parts += given
    Refused.unless_empty("not-enough-left", missing)
    return parts


def _refuse_named(
    session: Session, act: Act, named: Mapping[str, int], lots: Mapping[str, Lot], free: Mapping[str, int]
) -> None:
    missing = []
    for lot_id, quantity in named.items():
        lot = lots[lot_id]
        Refused.unless_empty("not-for-sale", _stops(session, act, lot), current_state=lot.state)
        not_before(act.at, lot.cleared_at or act.at, "the clearance of the lot")
        if quantity > free[lot_id]:
            detail = f"Lot {lot.code} has {free[lot_id]} left, {quantity} were asked for."
            missing.append(Reason("not-enough-left", detail, quantity, free[lot_id]))
    Refused.unless_empty("not-enough-left", missing)


def _fitting(
    session: Session, act: Act, line: Asked, lots: Mapping[str, Lot], free: Mapping[str, int]
) -> list[Part]:
    offers = [
        Offer(lot.id, lot.cleared_at, free[lot.id])
        for lot in lots.values()
        if (lot.plant_id, lot.unit_of_sale) == _kind(line)
        and lot.cleared_at is not None
        and lot.cleared_at <= act.at
        and not _stops(session, act, lot)
    ]
    return allocate(line["quantity"], offers)


def _missing(n: int, line: Asked, given: int) -> list[Reason]:
    if given == line["quantity"]:
        return []
    detail = (
        f"{given} {line['unit_of_sale']}s of this plant may be sold now, {line['quantity']} were asked for."
    )
    return [Reason("not-enough-left", detail, line["quantity"], given, pointer=f"#/lines/{n}/quantity")]


def _kind(line: Asked) -> tuple[str, str]:
    return line["plant_id"], line["unit_of_sale"]


def _stops(session: Session, act: Act, lot: Lot) -> list[Reason]:
    return dispatch_reasons(lot.state, hold_causes(session, lot.id), _good(session, lot), act.at)


def _good(session: Session, lot: Lot) -> Good | None:
    expires_at = session.scalar(
        select(Certificate.expires_at).where(
            Certificate.serial == lot.certificate_serial, Certificate.status == "valid"
        )
    )
    return None if expires_at is None or lot.good_until is None else Good(expires_at, lot.good_until)
