"""A trial is laid out on real lots, by a seed that anyone can repeat, and held from sale."""

from typing import Any

import pytest

from service.core.db import Database
from service.trials.rules import allocate
from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_lots import cleared
from tests.make_trials import ALUM, BLEACH, CONTROL, PLANTS, Trying
from tests.unchanged import unchanged

NOBODY = "00000000-0000-7000-8000-000000000000"


@pytest.fixture
def trying(api: Api) -> Trying:
    return Trying(Bench(api))


def parts(trying: Trying, tubs: int = 2) -> tuple[list[str], list[str]]:
    tub_ids = [trying.bench.tub(f"X{n}", 20) for n in range(tubs)]
    return tub_ids, [trying.bench.lot("anubias-barteri", 20)["id"]]


def test_units_are_split_off_dealt_to_tubs_and_held(trying: Trying) -> None:
    trial = trying.lay_out([ALUM, CONTROL], tubs=4, units=6, plants=PLANTS)
    assert len(trial["units"]) == 2 * 2 * 6
    for arm in ("alum", "control"):
        assert len(trying.tubs_of(arm)) == 2
        assert len(trying.labels(arm)) == 2 * 6
    for unit in trial["units"]:
        lot = trying.bench.see(unit["lot_id"])
        assert [hold["cause"] for hold in lot["holds"]] == ["trial"]
        assert lot["parent_lot_id"] == unit["source_lot_id"]
        [tub] = [tub for tub in trial["tubs"] if tub["label"] == unit["tub"]]
        assert lot["tub_id"] == tub["tub_id"]
        assert lot["quantity"]["left"] == 3
    for source in {unit["source_lot_id"] for unit in trial["units"]}:
        assert trying.bench.see(source)["quantity"]["split_off"] == 12
        numbers = [unit["source_number"] for unit in trial["units"] if unit["source_lot_id"] == source]
        assert sorted(numbers) == list(range(1, 13))


def test_the_same_seed_gives_the_same_allocation_and_the_answer_can_be_checked(trying: Trying) -> None:
    trial = trying.lay_out([ALUM, BLEACH, CONTROL], tubs=6, units=5)
    again = allocate(trial["seed"], 3, 6, [15])
    arms = [arm["code"] for arm in trial["arms"]]
    assert [tub["arm"] for tub in trial["tubs"]] == [arms[arm] for arm in again.arm_of_tub]
    told = [(unit["label"], unit["source_number"], unit["tub"]) for unit in trial["units"]]
    assert told == [(unit.label, unit.number, f"t{unit.tub + 1:02d}") for unit in again.units]


def test_a_blind_trial_tells_its_arms_to_the_manager_and_to_nobody_at_the_bench(trying: Trying) -> None:
    trying.lay_out([ALUM, CONTROL])
    seen = trying.bench.api.grower.seen(trying.path)
    assert {tub["arm"] for tub in seen["tubs"]} == {None}
    assert seen["seed"] is None
    [row] = trying.bench.api.grower.seen("/trials?state=open")["items"]
    assert row["seed"] is None
    trying.bench.api.manager.made(f"{trying.path}/close", {"conclusion": "stopped", **trying.bench.when(2)})
    assert {tub["arm"] for tub in trying.bench.api.grower.seen(trying.path)["tubs"]} == {"alum", "control"}
    assert trying.bench.api.grower.seen("/trials?state=open")["items"] == []


def test_an_open_trial_shows_its_arms_to_all(trying: Trying) -> None:
    trying.lay_out([ALUM, CONTROL], blind=False)
    seen = trying.bench.api.grower.seen(trying.path)
    assert {tub["arm"] for tub in seen["tubs"]} == {"alum", "control"}
    assert seen["seed"] == 7


def test_the_size_follows_from_what_is_to_be_told_apart(trying: Trying) -> None:
    power = {"treated": 0.9, "control": 0.1, "correlation": 0.1}
    trial = trying.lay_out([ALUM, CONTROL], tubs=4, units=None, power=power)
    # Cohen: h = 1.85, 2 (1.96 + 0.84)² / h² = 4.6, so 5 an arm alone; three to a tub and alike by 0.1: 6.
    assert trial["units_needed"] == 6
    assert trial["units_per_arm"] == 6
    assert "too-few-units" not in {warning["code"] for warning in trial["warnings"]}


def test_what_the_layout_cannot_give_is_said_before_anything_is_done(trying: Trying) -> None:
    trial = trying.lay_out([ALUM, BLEACH], units=2, blind=False, power={"treated": 0.9, "control": 0.7})
    assert [warning["code"] for warning in trial["warnings"]] == [
        "no-control",
        "one-tub-per-arm",
        "too-few-units",
        "not-blind",
    ]


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"arms": [CONTROL]}, "#/arms"),
        ({"arms": [CONTROL, {"code": "again"}]}, "#/arms"),
        ({"arms": [ALUM, {**ALUM, "protocol": "bleach-dip"}]}, "#/arms/1"),
        ({"arms": [ALUM, {"code": "x", "protocol": "alum-soak", "version": 77}]}, "#/arms/1/protocol"),
        ({"arms": [ALUM, {"code": "x", "protocol": "alum-soak"}]}, "#/arms/1/version"),
        ({"arms": [ALUM, BLEACH, CONTROL]}, "#/tub_ids"),
        ({"units_per_arm": None}, "#/units_per_arm"),
        ({"targets": [{"pest": "dragon", "stage": "adult"}]}, "#/targets/0/pest"),
        ({"tub_ids": [NOBODY, NOBODY]}, "#/tub_ids/1"),
        ({"lot_ids": [NOBODY]}, "#/lot_ids/0"),
        ({"power": {"treated": 0.5, "control": 0.5}}, "#/power/treated"),
    ],
)
def test_what_makes_no_trial_is_refused_by_name(
    trying: Trying, database: Database, changes: dict[str, Any], pointer: str
) -> None:
    tubs, lots = parts(trying)
    body = {**trying.body([ALUM, CONTROL], tubs, lots), **changes}
    with unchanged(database):
        answer = trying.bench.api.manager.post("/trials", body)
    assert answer.status_code == 422
    assert answer.get_json()["errors"][0]["pointer"] == pointer


def test_a_tub_that_is_not_there_is_refused(trying: Trying) -> None:
    tubs, lots = parts(trying)
    answer = trying.bench.api.manager.post("/trials", trying.body([ALUM, CONTROL], [tubs[0], NOBODY], lots))
    assert answer.get_json()["errors"][0]["pointer"] == "#/tub_ids/1"


def test_tubs_of_one_water_are_no_two_arms(trying: Trying) -> None:
    _, lots = parts(trying)
    system = trying.bench.api.grower.made("/water-systems", {"name": "sump"})["id"]
    tubs = [trying.bench.tub(code, water_system_id=system) for code in ("S1", "S2")]
    answer = trying.bench.api.manager.post("/trials", trying.body([ALUM, CONTROL], tubs, lots))
    assert answer.status_code == 422
    assert answer.get_json()["errors"][0]["pointer"] == "#/tub_ids/1"


@pytest.mark.parametrize("units", [11, 200])
def test_a_lot_gives_no_more_than_it_has(trying: Trying, database: Database, units: int) -> None:
    tubs, lots = parts(trying)
    with unchanged(database):
        answer = trying.bench.api.manager.post(
            "/trials", trying.body([ALUM, CONTROL], tubs, lots, units=units)
        )
    assert answer.status_code == 409
    assert answer.get_json()["reasons"][0]["code"] == "not-enough-left"


def test_a_tub_that_holds_others_is_not_free(trying: Trying) -> None:
    tubs, lots = parts(trying)
    trying.bench.treat("quarantine-only", tubs[0], [trying.bench.lot("anubias-barteri", 5)["id"]], 0.1, [1])
    answer = trying.bench.api.manager.post("/trials", trying.body([ALUM, CONTROL], tubs, lots))
    assert (answer.status_code, answer.get_json()["type"].split("/")[-1]) == (409, "tub-not-free")


def test_a_cleared_lot_is_no_source(trying: Trying, database: Database) -> None:
    tubs, [lot] = parts(trying)
    cleared(database, lot)
    answer = trying.bench.api.manager.post("/trials", trying.body([ALUM, CONTROL], tubs, [lot], units=2))
    assert (answer.status_code, answer.get_json()["current_state"]) == (409, "cleared")


def test_a_name_is_given_once(trying: Trying) -> None:
    trial = trying.lay_out([ALUM, CONTROL])
    tubs, lots = parts(trying)
    answer = trying.bench.api.manager.post("/trials", trying.body([ALUM, CONTROL], tubs, lots))
    assert answer.status_code == 409
    assert trial["name"] in answer.get_json()["detail"]


def test_a_grower_lays_no_trial_out_and_nobody_reads_without_a_token(trying: Trying) -> None:
    tubs, lots = parts(trying)
    assert (
        trying.bench.api.grower.post("/trials", trying.body([ALUM, CONTROL], tubs, lots)).status_code == 403
    )
    assert trying.bench.api.nobody.get("/trials").status_code == 401
    assert trying.bench.api.auditor.get(f"/trials/{NOBODY}").status_code == 404


def test_a_trial_sent_twice_is_laid_out_once(trying: Trying) -> None:
    tubs, lots = parts(trying)
    body = trying.body([ALUM, CONTROL], tubs, lots)
    first = trying.bench.api.manager.made("/trials", body, Idempotency_Key="k1")
    assert trying.bench.api.manager.made("/trials", body, Idempotency_Key="k1")["id"] == first["id"]
    assert len(trying.bench.api.manager.seen("/trials")["items"]) == 1
