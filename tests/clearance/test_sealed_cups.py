"""Sealed cups over HTTP: cleared dry and untreated, ordinary plants once they are opened (decision 29)."""

from typing import Any

import pytest

from service.core.db import Database
from tests.api import Api
from tests.clearance.test_certificates import statement
from tests.journeys.bench import Bench
from tests.make_clearance import decide
from tests.make_inspections import found
from tests.unchanged import unchanged

SEAL = {"lid_whole": True, "gel_clean": True}
UNASKED = {"protocol_done", "hatch_out", "visibility", "floor_days", "temperature_log"}


@pytest.fixture
def bench(api: Api) -> Bench:
    bench = Bench(api, 10)
    bench.supplier = api.grower.made("/suppliers", {"name": "Gellab", "country": "PT", "in_vitro": True})
    return bench


def cups(bench: Bench, **more: Any) -> str:
    return str(bench.lot("anubias-barteri", 12, unit_of_sale="cup", **more)["id"])


def sealed(bench: Bench, lot: str, day: float = 1, size: int = 12) -> Any:
    return bench.look(day, lot_id=lot, method="sealed_cup", seal=SEAL, sample_size=size)


def look_body(lot: str, **more: Any) -> dict[str, Any]:
    return {"lot_id": lot, "method": "sealed_cup", "seal": SEAL, "sample_size": 12, "findings": [], **more}


def test_sealed_cups_are_cleared_without_treatment_wait_or_log(bench: Bench) -> None:
    lot = cups(bench)
    assert not bench.gates(lot)["floor_days"]["ok"]
    sealed(bench, lot)
    assert (bench.see(lot)["state"], bench.see(lot)["sealed_since"]) == ("in_quarantine", bench.when(1)["at"])
    gates = bench.gates(lot)
    assert all(gate["ok"] for gate in gates.values())
    assert {code for code, gate in gates.items() if gate["needed"] == "not asked of sealed cups"} == UNASKED
    made = decide(bench, lot)
    assert made.status_code == 201
    told = bench.api.auditor.seen(f"/certificates/{made.get_json()['certificate']['serial']}/replay")
    assert told["outcome"] == "same"


def test_opening_ends_the_statement_and_makes_them_ordinary_plants(bench: Bench) -> None:
    lot = cups(bench)
    sealed(bench, lot)
    serial = decide(bench, lot).get_json()["certificate"]["serial"]
    opened = bench.api.grower.post(f"/lots/{lot}/opening", {"reason": "potted for the shop"})
    assert opened.status_code == 200
    assert (opened.get_json()["state"], opened.get_json()["sealed_since"]) == ("in_quarantine", None)
    assert bench.api.auditor.seen(f"/certificates/{serial}")["status"] == "revoked"
    assert not bench.gates(lot)["protocol_done"]["ok"]
    refused = bench.api.grower.post("/inspections", look_body(lot))
    assert refused.get_json()["errors"][0]["detail"] == "The cups were opened."
    again = bench.api.grower.post(f"/lots/{lot}/opening", {"reason": "again"})
    assert (again.status_code, again.get_json()["type"]) == (409, "/problems/not-sealed")
    bench.api.grower.made(f"/lots/{lot}/repack", {"kind": "depot", "from_quantity": 12, "to_quantity": 12})


def test_the_look_at_sealed_cups_holds_for_two_weeks(api: Api) -> None:
    bench = Bench(api, 20)
    bench.supplier = api.grower.made("/suppliers", {"name": "Gellab", "country": "PT", "in_vitro": True})
    lot = cups(bench)
    sealed(bench, lot)
    assert not bench.gates(lot)["clean_inspections"]["ok"]
    sealed(bench, lot, day=16)
    assert bench.gates(lot)["clean_inspections"]["ok"]


def test_sealed_cups_stay_dry_and_whole(bench: Bench, database: Database) -> None:
    lot, place = cups(bench), bench.tub("S1")
    sealed(bench, lot)
    tries = {
        f"/lots/{lot}/moves": {"tub_id": place},
        f"/lots/{lot}/repack": {"kind": "depot", "from_quantity": 12, "to_quantity": 12},
        "/treatments": {"protocol": "quarantine-only", "version": 1, "tub_id": place, "lot_ids": [lot]},
    }
    for path, body in tries.items():
        with unchanged(database):
            refused = bench.api.grower.post(path, body)
        assert (refused.status_code, refused.get_json()["type"]) == (409, "/problems/sealed-cups"), path


def test_cups_that_stood_in_water_or_of_another_supplier_are_not_sealed(
    bench: Bench, database: Database
) -> None:
    wet = cups(bench, tub_id=bench.tub("S2"))
    bench.supplier = bench.api.grower.made("/suppliers", {"name": "Potgrower", "country": "PT"})
    for lot in (wet, cups(bench)):
        with unchanged(database):
            refused = bench.api.grower.post("/inspections", look_body(lot))
        assert (refused.status_code, refused.get_json()["errors"][0]["pointer"]) == (422, "#/method")


@pytest.mark.parametrize(
    ("more", "pointer"),
    [
        ({"seal": None}, "#/seal"),
        ({"seal": {"lid_whole": True, "gel_clean": False}}, "#/seal/gel_clean"),
        ({"method": "eyes"}, "#/seal"),
        ({"sample_size": 11}, "#/sample_size"),
        ({"findings": [found()]}, "#/findings"),
    ],
)
def test_a_seal_is_said_whole_or_not_at_all(bench: Bench, more: Any, pointer: str) -> None:
    refused = bench.api.grower.post("/inspections", look_body(cups(bench), **more))
    assert (refused.status_code, refused.get_json()["errors"][0]["pointer"]) == (422, pointer)


def test_a_tub_has_no_sealed_cups(bench: Bench) -> None:
    body = {"tub_id": bench.tub("S3"), "method": "sealed_cup", "seal": SEAL, "findings": []}
    assert bench.api.grower.post("/inspections", body).get_json()["errors"][0]["pointer"] == "#/tub_id"


def test_a_live_find_or_a_voided_look_breaks_the_seal(bench: Bench) -> None:
    alive, wrong = cups(bench), cups(bench)
    sealed(bench, alive)
    bench.look(2, lot_id=alive, sample_size=1, findings=[found()])
    assert bench.see(alive)["sealed_since"] is None
    look = sealed(bench, wrong)
    assert decide(bench, wrong).status_code == 201
    bench.api.grower.post(f"/inspections/{look['id']}/void", {"reason": "the wrong shelf"})
    assert (bench.see(wrong)["sealed_since"], bench.see(wrong)["state"]) == (None, "in_quarantine")


def test_parts_stay_sealed_and_the_statement_says_when_it_is_void(bench: Bench) -> None:
    lot = cups(bench)
    sealed(bench, lot)
    made = decide(bench, lot).get_json()["certificate"]
    shown = bench.api.auditor.seen(f"/certificates/{made['serial']}")
    said = statement(bench.api, shown["jws"])["statement"]
    assert "Sealed cups: this statement is void when they are opened." in said
    part = bench.api.grower.made(f"/lots/{lot}/splits", {"quantity": 4})
    assert part["sealed_since"] == bench.see(lot)["sealed_since"] is not None
