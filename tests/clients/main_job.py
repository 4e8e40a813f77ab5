"""The main job by the generated client: from a shipment to a dispatch. Says the lot's certificate at the end.

A program of its own, run beside the generated package: `python main_job.py ADDRESS BENCH MANAGER`, with a
grower's and a manager's token. Types are checked against what was generated.
"""

import sys
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Protocol, TypeVar
from uuid import UUID, uuid4

from dipledger_client import AuthenticatedClient
from dipledger_client.api.catalogue import get_api_v1_plants, post_api_v1_suppliers
from dipledger_client.api.clearance import get_api_v1_lots_lot_id_clearance, post_api_v1_lots_lot_id_clearance
from dipledger_client.api.inspections import post_api_v1_inspections
from dipledger_client.api.intake import post_api_v1_shipments
from dipledger_client.api.lots import get_api_v1_lots_lot_id
from dipledger_client.api.protocols import get_api_v1_protocols_code_versions_number
from dipledger_client.api.reservations import post_api_v1_reservations
from dipledger_client.api.sales import post_api_v1_dispatches
from dipledger_client.api.stores import get_api_v1_materials, post_api_v1_materials_material_id_batches
from dipledger_client.api.temperatures import post_api_v1_tubs_tub_id_temperatures
from dipledger_client.api.treatments import (
    post_api_v1_treatments,
    post_api_v1_treatments_treatment_id_finish,
    post_api_v1_treatments_treatment_id_steps_n_finish,
    post_api_v1_treatments_treatment_id_steps_n_start,
)
from dipledger_client.api.tubs import post_api_v1_tubs
from dipledger_client.models import (
    CatalogueSupplierIn,
    ClearanceClearanceIn,
    ClearanceClearedOut,
    CoreAmountForm,
    CoreAmountFormUnit,
    InspectionsFindingIn,
    InspectionsFindingInStage,
    InspectionsInspectionIn,
    InspectionsInspectionInMethod,
    IntakeLineIn,
    IntakeLineInUnitOfSale,
    IntakeShipmentIn,
    Problem,
    SalesDispatchIn,
    SalesPartIn,
    SalesReservationIn,
    StoresStockBatchIn,
    TreatmentsFinishIn,
    TreatmentsFinishStepIn,
    TreatmentsStartIn,
    TreatmentsTreatmentIn,
    TubsReadingIn,
    TubsReadingInUnit,
    TubsTemperaturesIn,
    TubsTubIn,
)
from dipledger_client.types import Unset

T = TypeVar("T")
DAYS, POTS, LATE = 50, 30, "entered from the notebook"
START = datetime.now(UTC).replace(minute=0, second=0, microsecond=0) - timedelta(days=DAYS)


class Thing(Protocol):
    """Whatever answers with its id."""

    id: str | Unset


def given(answer: T | Problem | Unset | None) -> T:
    """An answer that must be there and no problem."""
    if answer is None or isinstance(answer, Problem | Unset):
        raise SystemExit(f"not answered: {answer}")
    return answer


def id_of(thing: Thing) -> UUID:
    return UUID(given(thing.id))


def day(n: float) -> datetime:
    return START + timedelta(days=n)


def main(address: str, bench_token: str, manager_token: str) -> str:
    bench, manager = (
        AuthenticatedClient(address, token, raise_on_unexpected_status=True)
        for token in (bench_token, manager_token)
    )
    with bench, manager:
        lot, tub = received(bench)
        treated(bench, lot, tub)
        watched(bench, lot, tub)
        serial = cleared(manager, lot)
        sold(manager, lot)
    return serial


def received(bench: AuthenticatedClient) -> tuple[UUID, UUID]:
    """A shipment of one line, counted in, and the tub that waits for it."""
    supplier = given(
        post_api_v1_suppliers.sync(
            client=bench, body=CatalogueSupplierIn(country="NL", name="Fenmarsh Growers")
        )
    )
    plants = given(given(get_api_v1_plants.sync(client=bench, limit=200)).items)
    plant = next(id_of(one) for one in plants if one.code == "leptochilus-pteropus")
    line = IntakeLineIn(plant, POTS, IntakeLineInUnitOfSale.POT)
    body = IntakeShipmentIn(id_of(supplier), [line], received_at=day(0), late_reason=LATE)
    # The same key is the same act: the second answer is the first again.
    key = str(uuid4())
    first, again = (
        given(post_api_v1_shipments.sync(client=bench, body=body, idempotency_key=key)) for _ in range(2)
    )
    assert given(first.lots) == given(again.lots)
    tub = TubsTubIn("Q1", CoreAmountForm(value=40, unit=CoreAmountFormUnit.L))
    return id_of(given(first.lots)[0]), id_of(given(post_api_v1_tubs.sync(client=bench, body=tub)))


def treated(bench: AuthenticatedClient, lot: UUID, tub: UUID) -> None:
    """Looked at, some egg masses found, then soaked in alum, step by step."""
    materials = given(given(get_api_v1_materials.sync(client=bench, limit=200)).items)
    alum = next(one for one in materials if one.code == "potassium-alum")
    stock = StoresStockBatchIn("alum-1", CoreAmountForm(value=1000, unit=CoreAmountFormUnit.G), day(0), LATE)
    given(post_api_v1_materials_material_id_batches.sync(given(alum.id), client=bench, body=stock))
    eggs = InspectionsFindingIn("bladder_snail", InspectionsFindingInStage.EGG, live=3, removed=True)
    look(bench, 0.02, InspectionsInspectionInMethod.EYES, lot=lot, findings=[eggs])
    written = given(get_api_v1_protocols_code_versions_number.sync("alum-soak", 1, client=bench))
    steps = given(written.content).additional_properties["steps"]
    plan = TreatmentsTreatmentIn("alum-soak", 1, tub, [lot], day(0.1), LATE)
    treatment = str(id_of(given(post_api_v1_treatments.sync(client=bench, body=plan))))
    moment = day(0.1)
    for n, step in enumerate(steps, 1):
        begin, moment = moment, moment + timedelta(seconds=step["duration"]["target_s"])
        start, end = TreatmentsStartIn(begin, LATE), TreatmentsFinishStepIn(moment, LATE)
        run = post_api_v1_treatments_treatment_id_steps_n_start
        given(run.sync(treatment, n, client=bench, body=start))
        given(post_api_v1_treatments_treatment_id_steps_n_finish.sync(treatment, n, client=bench, body=end))
    done = TreatmentsFinishIn(moment, LATE)
    given(post_api_v1_treatments_treatment_id_finish.sync(treatment, client=bench, body=done))


def watched(bench: AuthenticatedClient, lot: UUID, tub: UUID) -> None:
    """The facts of quarantine: the logger's temperatures, the water strained, bait, and two last looks."""
    readings = [TubsReadingIn(day(n / 24), 22, TubsReadingInUnit.CEL) for n in range(DAYS * 24 + 1)]
    log = TubsTemperaturesIn(readings=readings, late_reason=LATE)
    given(post_api_v1_tubs_tub_id_temperatures.sync(str(tub), client=bench, body=log))
    for n in range(6, 45, 7):
        look(bench, n, InspectionsInspectionInMethod.STRAIN, tub=tub)
    look(bench, 10, InspectionsInspectionInMethod.BAIT, tub=tub)
    for n in (45, 49):
        look(bench, n, InspectionsInspectionInMethod.EYES, lot=lot)


def look(
    bench: AuthenticatedClient,
    n: float,
    method: InspectionsInspectionInMethod,
    *,
    lot: UUID | None = None,
    tub: UUID | None = None,
    findings: list[InspectionsFindingIn] | None = None,
) -> None:
    """Look at a lot, all of it, or at a tub."""
    body = InspectionsInspectionIn(findings or [], day(n), LATE, lot, tub, method)
    if lot is not None:
        body.sample_size = POTS
    given(post_api_v1_inspections.sync(client=bench, body=body))


def cleared(manager: AuthenticatedClient, lot: UUID) -> str:
    """Every gate holds: decide, on the version that was just read."""
    gates = given(given(get_api_v1_lots_lot_id_clearance.sync(str(lot), client=manager)).gates)
    assert all(gate.ok for gate in gates), [gate for gate in gates if not gate.ok]
    tag = get_api_v1_lots_lot_id.sync_detailed(str(lot), client=manager).headers["ETag"]
    decide: Callable[..., ClearanceClearedOut | object] = post_api_v1_lots_lot_id_clearance.sync
    decided = decide(str(lot), client=manager, body=ClearanceClearanceIn(), if_match=tag)
    assert isinstance(decided, ClearanceClearedOut), decided
    serial: str = given(given(decided.certificate).serial)
    return serial


def sold(manager: AuthenticatedClient, lot: UUID) -> None:
    """Promised to one order, then sent."""
    promise = SalesReservationIn("W-1001", [SalesPartIn(6, lot_id=lot)])
    reservation = given(post_api_v1_reservations.sync(client=manager, body=promise))
    sent = SalesDispatchIn("W-1001", reservation_id=id_of(reservation))
    [line] = given(given(post_api_v1_dispatches.sync(client=manager, body=sent)).lines)
    assert (line.lot_id, line.quantity) == (str(lot), 6)
    left = given(given(get_api_v1_lots_lot_id.sync(str(lot), client=manager)).quantity)
    assert (left.left, left.sold) == (POTS - 6, 6)


if __name__ == "__main__":
    sys.stdout.write(main(*sys.argv[1:]))
