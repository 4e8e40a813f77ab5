"""Lots that still die, and plants that may not be traded where the house is, are not cleared."""

from typing import Any

import pytest

from tests.journeys.bench import Bench
from tests.make_clearance import decide

OVERRIDE = [{"gate": "restricted_species", "reason": "the authority's permit 17 allows it"}]


def lose(bench: Bench, lot: str, day: float, quantity: int, cause: str) -> None:
    bench.api.grower.made(f"/lots/{lot}/losses", {"quantity": quantity, "cause": cause, **bench.when(day)})


def shut(answer: Any) -> list[str]:
    assert answer.status_code == 409
    return [reason["code"] for reason in answer.get_json()["reasons"]]


def placed(bench: Bench, **place: Any) -> Any:
    tag = bench.api.owner.get("/settings").headers["ETag"]
    return bench.api.owner.send("PATCH", "/settings", place, headers={"If-Match": tag})


@pytest.mark.parametrize(
    ("quantity", "cause", "healthy"),
    [(5, "melt", False), (4, "melt", True), (5, "other", False), (5, "broken", True)],
)
def test_a_lot_of_which_much_died_lately_waits(
    bench: Bench, quantity: int, cause: str, healthy: bool
) -> None:
    lot = bench.ready_lot()
    lose(bench, lot, 48, quantity, cause)
    gate = bench.gates(lot)["plants_healthy"]
    assert gate["ok"] is healthy
    if healthy:
        assert decide(bench, lot).status_code == 201
    else:
        assert gate["when"] == bench.when(62)["at"]
        assert shut(decide(bench, lot)) == ["plants_healthy"]


def test_what_died_a_month_ago_does_not_count(bench: Bench) -> None:
    lot = bench.ready_lot()
    lose(bench, lot, 20, 6, "melt")
    assert decide(bench, lot).status_code == 201


def test_a_part_split_off_a_dying_lot_is_judged_by_what_died_before(bench: Bench) -> None:
    lot = bench.ready_lot()
    lose(bench, lot, 49.1, 5, "melt")
    split = {"quantity": 5, "tub_id": bench.tub("Q2"), **bench.when(49.2)}
    part = bench.api.grower.made(f"/lots/{lot}/splits", split)["id"]
    assert not bench.gates(part)["plants_healthy"]["ok"]
    assert bench.gates(part)["plants_healthy"]["have"] == bench.gates(lot)["plants_healthy"]["have"]
    lose(bench, lot, 49.3, 5, "melt")
    assert bench.gates(part)["plants_healthy"]["have"] == "25% lost"
    assert bench.gates(lot)["plants_healthy"]["have"] == "62% lost"  # 1 - 15/20 x 5/10


@pytest.fixture
def listed(bench: Bench) -> str:
    """A lot, ready but for the decision, of a plant on the list of the Union."""
    plants = bench.api.grower.seen("/plants?limit=200")["items"]
    on_it = (p["code"] for p in plants if any(e["jurisdiction"] == "EU" for e in p["restricted"]))
    return bench.ready_lot(plant=next(on_it))


def test_a_plant_that_a_list_forbids_here_is_cleared_by_an_owner_with_a_reason_only(
    bench: Bench, listed: str
) -> None:
    assert placed(bench, country="NL").get_json()["country"] == "NL"
    assert shut(decide(bench, listed)) == ["restricted_species"]
    cleared = decide(bench, listed, {"overrides": OVERRIDE}, role="owner")
    assert cleared.status_code == 201, cleared.get_json()
    [serial] = [item["serial"] for item in bench.api.auditor.seen("/certificates")["items"]]
    assert bench.api.nobody.get(f"/c/{serial}").status_code == 200


def test_a_house_elsewhere_or_nowhere_yet_is_told_of_the_list(bench: Bench, listed: str) -> None:
    told = bench.gates(listed)["restricted_species"]
    assert told["ok"]
    assert "Check your local list." in told["have"]
    assert placed(bench, country="GB").status_code == 200
    assert decide(bench, listed).status_code == 201


def test_a_place_that_cannot_be_is_refused(bench: Bench) -> None:
    for place, pointer in (
        ({"country": "nl"}, "#/country"),
        ({"country": "DE", "subdivision": "US-VT"}, "#/subdivision"),
        ({"subdivision": "US-VT"}, "#/subdivision"),
    ):
        refused = placed(bench, **place)
        assert refused.status_code == 422
        assert refused.get_json()["errors"][0]["pointer"] == pointer
    assert bench.api.owner.seen("/settings")["country"] is None
