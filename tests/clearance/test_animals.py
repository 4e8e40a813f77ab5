"""Tests with animals over HTTP: what was tested is stated, and what died shuts the gate (decision 9)."""

from typing import Any

import pytest

from service.core.db import Database
from tests.clearance.test_certificates import statement
from tests.journeys.bench import Bench
from tests.make_clearance import decide, ready
from tests.unchanged import unchanged

NOT_TESTED = "Not tested for shrimp: the water was not tried on shrimp or water fleas."


def told(bench: Bench, day: float = 40, **more: Any) -> dict[str, Any]:
    began = bench.when(day - 3)["at"]
    return {"animal": "shrimp", "animals": 5, "alive": 5, "started_at": began, **bench.when(day), **more}


def entered(bench: Bench, lot: str, day: float = 40, **more: Any) -> Any:
    return bench.api.grower.made(f"/lots/{lot}/animal-tests", told(bench, day, **more))


def stated(bench: Bench, lot: str) -> Any:
    made = decide(bench, lot)
    assert made.status_code == 201, made.get_json()
    return statement(bench.api, made.get_json()["certificate"]["jws"])["statement"]


def test_without_a_test_the_statement_says_so(bench: Bench) -> None:
    lot = ready(bench, bench.tub("A1"))
    bench.logger(bench.see(lot)["tub_id"], 0, 50, 24)
    assert NOT_TESTED in stated(bench, lot)


def test_with_one_it_says_what_was_tested(bench: Bench) -> None:
    lot = ready(bench, bench.tub("A2"))
    bench.logger(bench.see(lot)["tub_id"], 0, 50, 24)
    made = entered(bench, lot)
    assert bench.api.auditor.seen(f"/lots/{lot}/animal-tests")["items"] == [made]
    assert "5 of 5 shrimp were alive" in bench.gates(lot)["residue"]["have"]
    said = stated(bench, lot)
    assert NOT_TESTED not in said
    assert any(one.startswith("Tested for shrimp: 5 of 5 shrimp were alive after 72 hours") for one in said)


def test_animals_that_died_shut_the_gate_until_others_live(bench: Bench) -> None:
    lot = ready(bench, bench.tub("A3"))
    bench.logger(bench.see(lot)["tub_id"], 0, 50, 24)
    entered(bench, lot, alive=2)
    gate = bench.gates(lot)["residue"]
    assert (gate["ok"], gate["have"]) == (False, "2 of 5 shrimp were alive after 72 hours")
    refused = decide(bench, lot)
    assert [reason["code"] for reason in refused.get_json()["reasons"]] == ["residue"]
    entered(bench, lot, day=44, animal="water_flea", animals=10, alive=10)
    assert bench.gates(lot)["residue"]["ok"]
    part = bench.api.grower.made(f"/lots/{lot}/splits", {"quantity": 5})["id"]
    assert len(bench.api.grower.seen(f"/lots/{part}/animal-tests")["items"]) == 2


@pytest.mark.parametrize(
    ("more", "pointer"),
    [
        ({"alive": 6}, "#/alive"),
        ({"animals": 0}, "#/animals"),
        ({"animal": "goldfish"}, "#/animal"),
        ({"started_at": "2099-01-01T00:00:00Z"}, "#/started_at"),
        ({"started_at": "2020-01-01T00:00:00Z"}, "#/at"),
    ],
)
def test_a_test_that_cannot_be_changes_nothing(
    bench: Bench, database: Database, more: dict[str, Any], pointer: str
) -> None:
    lot = bench.lot("anubias-barteri", 20)["id"]
    with unchanged(database):
        refused = bench.api.grower.post(f"/lots/{lot}/animal-tests", told(bench, **more))
    assert (refused.status_code, refused.get_json()["errors"][0]["pointer"]) == (422, pointer)


def test_a_lot_that_is_gone_or_nobody_knows_has_no_test(bench: Bench) -> None:
    lot = bench.lot("anubias-barteri", 20)["id"]
    bench.api.grower.made(f"/lots/{lot}/rejection", {"quantity": 20, "way": "destroyed", "reason": "rotten"})
    assert bench.api.grower.post(f"/lots/{lot}/animal-tests", told(bench)).status_code == 409
    assert bench.api.auditor.post(f"/lots/{lot}/animal-tests", told(bench)).status_code == 403
