"""Registering shipments and taking them in: every line becomes a lot."""

from collections.abc import Mapping, Sequence
from datetime import date
from typing import Any

from sqlalchemy.orm import Session

from service.catalogue.models import Supplier
from service.catalogue.queries import plants_by_ids
from service.core.clock import local_day
from service.core.errors import Invalid, Refused
from service.core.house import House
from service.intake import queries, rules
from service.intake.models import Shipment, ShipmentLine
from service.intake.rules_strata import by_kind, strata_reasons
from service.journal.actions import record
from service.journal.acts import Act
from service.lots.actions import enter_tub, lock_water_group, receive_each
from service.lots.models import Lot
from service.lots.moves import named_tub

DETAILS = ("stems_per_bunch", "untied", "kept_in_wool", "strata", "bag", "supplier_treatment", "tub_id")


def expect_shipment(
    session: Session, act: Act, facts: Mapping[str, Any], lines: Sequence[Mapping[str, Any]]
) -> Shipment:
    """Register a shipment that is expected on a day; raises Invalid with the pointer of what is wrong."""
    shipment, _ = _register(session, act, facts["expected_on"], facts, lines)
    after = {"code": shipment.code, "expected_on": shipment.expected_on, "lines": len(lines)}
    record(session, act, "shipment.expected", [shipment], after=after)
    return shipment


def receive_shipment(
    session: Session,
    act: Act,
    facts: Mapping[str, Any],
    lines: Sequence[Mapping[str, Any]],
    *,
    share_water: bool,
) -> Shipment:
    """Register a shipment that is here, with its lots; raises as `expect_shipment` and `take_in`."""
    _lock(session, act, lines)
    shipment, written = _register(session, act, None, facts, lines)
    _take_in(session, act, shipment, written, counts={}, share_water=share_water)
    return shipment


def take_in(
    session: Session,
    act: Act,
    shipment: Shipment,
    counts: Sequence[Mapping[str, Any]],
    *,
    share_water: bool,
) -> None:
    """Receive an expected shipment, with the units that were counted (0: the line did not come).

    Raises Refused when it is here already or a tub refuses its lots, Invalid for a wrong count.
    """
    if shipment.received_at is not None:
        raise Refused("already-received", "This shipment has been received already.")
    lines = queries.lines_of(session, shipment.id)
    found, reasons = rules.counted({line.n: line.quantity for line in lines}, counts)
    if reasons:
        raise Invalid(reasons[0].code, reasons[0].detail, reasons)
    _lock(session, act, [line.details for line in lines])
    _take_in(session, act, shipment, lines, counts=found, share_water=share_water)


def _register(
    session: Session,
    act: Act,
    expected_on: date | None,
    facts: Mapping[str, Any],
    lines: Sequence[Mapping[str, Any]],
) -> tuple[Shipment, list[ShipmentLine]]:
    _check(session, facts["supplier_id"], lines)
    # The house row makes numbering wait its turn: two shipments never get one code.
    house = session.get_one(House, 1, with_for_update=True)
    day = expected_on or local_day(act.at, house.time_zone)
    code = rules.shipment_code(day, queries.next_number(session, day))
    received_at = None if expected_on else act.at
    shipment = Shipment(code=code, created_at=act.now, **{**facts, "received_at": received_at})
    session.add(shipment)
    session.flush()
    written = [
        ShipmentLine(
            shipment_id=shipment.id,
            n=n,
            details={name: line[name] for name in DETAILS},
            **{name: line[name] for name in ("plant_id", "quantity", "unit_of_sale")},
        )
        for n, line in enumerate(by_kind(lines), 1)
    ]
    session.add_all(written)
    session.flush()
    return shipment, written


def _check(session: Session, supplier_id: str, lines: Sequence[Mapping[str, Any]]) -> None:
    if session.get(Supplier, supplier_id) is None:
        raise Invalid.at("#/supplier_id", "There is no such supplier.", code="unknown-supplier")
    pointers: dict[str, str] = {}
    for n, line in enumerate(lines):
        pointers.setdefault(line["plant_id"], f"#/lines/{n}/plant_id")
        for m, part in enumerate(line["strata"]):
            if part["plant_id"] is not None:
                pointers.setdefault(part["plant_id"], f"#/lines/{n}/strata/{m}/plant_id")
    plants_by_ids(session, pointers)
    for tub_id, pointer in queries.tubs_named(lines).items():
        named_tub(session, tub_id, pointer)
    reasons = rules.line_reasons(lines)
    for n, line in enumerate(lines):
        reasons += strata_reasons(line, f"#/lines/{n}/strata")
    if reasons:
        raise Invalid(reasons[0].code, reasons[0].detail, reasons)


def _lock(session: Session, act: Act, lines: Sequence[Mapping[str, Any]]) -> None:
    lock_water_group(session, [], queries.tubs_named(lines), since=act.at)


def _take_in(
    session: Session,
    act: Act,
    shipment: Shipment,
    lines: Sequence[ShipmentLine],
    *,
    counts: Mapping[int, int],
    share_water: bool,
) -> None:
    shipment.received_at = act.at
    came = [(line, counts.get(line.n, line.quantity)) for line in lines]
    came = [(line, quantity) for line, quantity in came if quantity]
    lots = receive_each(session, act, [_facts(shipment, line, quantity) for line, quantity in came])
    tubs: dict[str, list[Lot]] = {}
    for (line, _), lot in zip(came, lots, strict=True):
        line.lot_id = lot.id
        tubs.setdefault(line.details["tub_id"] or "", []).append(lot)
    after = {"code": shipment.code, "lots": [lot.code for lot in lots]}
    record(session, act, "shipment.received", [shipment, *lots], after=after)
    for tub_id, together in tubs.items():
        tub = named_tub(session, tub_id)
        if tub is not None:
            enter_tub(session, act, together, tub, share_water=share_water)


def _facts(shipment: Shipment, line: ShipmentLine, quantity: int) -> dict[str, Any]:
    details = line.details
    return {
        "code": rules.lot_code(shipment.code, line.n),
        "plant_id": line.plant_id,
        "supplier_id": shipment.supplier_id,
        "shipment_id": shipment.id,
        "unit_of_sale": line.unit_of_sale,
        "received": quantity,
        "supplier_treatment_unknown": rules.treatment_unknown(details["supplier_treatment"]),
        **{name: details[name] for name in ("stems_per_bunch", "untied", "kept_in_wool", "bag")},
        "strata": details.get("strata", []),  # shipments expected from before do not say,
    }
