"""Trial stems over HTTP: the rest of the lot waits for what they show."""

from typing import Any

import pytest

from service.core.db import Database
from tests.api import Api
from tests.make_lots import plant, tub
from tests.make_treatments import NOWHERE, asked, lot, shelf, when
from tests.unchanged import unchanged

PROTOCOL = {"protocol": "bleach-dip", "version": 1}


@pytest.fixture
def fern(api: Api) -> str:
    """Forty pots of a fern that nobody knows to stand bleach."""
    shelf(api)
    return lot(api, plant_id=plant(api, "leptochilus-pteropus"))


def tried(api: Api, lot_id: str, stems: int = 4, days: float = 1) -> Any:
    return api.grower.made(f"/lots/{lot_id}/trial-stems", {**PROTOCOL, "stems": stems, **when(days)})


def judged(api: Api, trial: Any, days: float, alive: int = 4) -> Any:
    return api.grower.made(f"/trial-stems/{trial['id']}/judgements", {"alive": alive, **when(days)})


def planned(api: Api, database: Database, lot_id: str, days: float = 16) -> Any:
    return api.grower.post("/treatments", asked("bleach-dip", tub(database, f"T{days}"), [lot_id], days))


def test_a_lot_is_treated_once_its_stems_were_judged_on_the_three_days(
    api: Api, database: Database, fern: str
) -> None:
    trial = tried(api, fern)
    assert (trial["method"], trial["days_owed"], trial["dead"]) == ("bleach_dip", [2, 7, 14], 0)
    for days in (3, 8):
        judged(api, trial, days)
    early = planned(api, database, fern, 9)
    assert (early.status_code, early.get_json()["type"]) == (409, "/problems/trial-stems-waiting")
    shown = judged(api, trial, 15)
    assert (shown["days_owed"], shown["next_at"], [one["alive"] for one in shown["judgements"]]) == (
        [],
        None,
        [4, 4, 4],
    )
    # none of 4: 1 - 0.05^(1/4), by hand
    assert shown["lost_at_most"] == pytest.approx(0.5271, abs=1e-4)
    assert planned(api, database, fern).status_code == 201
    assert api.auditor.seen(f"/lots/{fern}/trial-stems")["items"] == [shown]


def test_where_one_died_only_an_owner_goes_on(api: Api, database: Database, fern: str) -> None:
    trial = tried(api, fern)
    for days, alive in ((3, 4), (8, 4), (15, 3)):
        judged(api, trial, days, alive)
    refused = planned(api, database, fern)
    assert (refused.status_code, refused.get_json()["type"]) == (409, "/problems/plant-avoids-method")
    body = {**asked("bleach-dip", tub(database, "T9"), [fern], 16), "override_reason": "one leaf was old"}
    assert api.owner.post("/treatments", body).status_code == 201


def test_the_days_are_due_work_until_they_were_seen(api: Api, fern: str) -> None:
    trial = tried(api, fern)
    [work] = api.grower.seen("/due-work?kind=judge_stems")["items"]
    assert (work["due_at"], work["lots"][0]["id"], work["overdue"]) == (when(3)["at"], fern, True)
    assert trial["next_at"] == work["due_at"]
    judged(api, trial, 3, alive=0)
    assert api.grower.seen("/due-work?kind=judge_stems")["items"] == []


def test_parts_go_by_the_stems_of_the_whole_but_other_lots_and_methods_do_not(
    api: Api, database: Database, fern: str
) -> None:
    trial = tried(api, fern)
    for days in (3, 8, 15):
        judged(api, trial, days)
    part = api.grower.made(f"/lots/{fern}/splits", {"quantity": 10, **when(15.5)})["id"]
    assert planned(api, database, part).status_code == 201
    other = lot(api, plant_id=plant(api, "leptochilus-pteropus"))
    assert planned(api, database, other, 17).get_json()["type"] == "/problems/trial-stems-needed"
    copper = asked("copper-course", tub(database, "T8"), [fern], 16)
    assert api.grower.post("/treatments", copper).get_json()["type"] == "/problems/trial-stems-needed"


def test_one_pot_only_is_the_owner_s_word(api: Api, database: Database) -> None:
    shelf(api)
    one = lot(api, plant_id=plant(api, "leptochilus-pteropus"), quantity=1)
    assert planned(api, database, one).get_json()["type"] == "/problems/plant-avoids-method"
    refused = api.grower.post(f"/lots/{one}/trial-stems", {**PROTOCOL, "stems": 1, **when(1)})
    assert (refused.status_code, refused.get_json()["type"]) == (409, "/problems/one-plant-only")


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({**PROTOCOL, "stems": 5}, "#/stems"),
        ({**PROTOCOL, "stems": 0}, "#/stems"),
        ({"protocol": "no-such", "version": 1, "stems": 1}, "#/protocol"),
        ({**PROTOCOL, "stems": 1, "at": "2019-01-01T00:00:00Z", "late_reason": "old"}, "#/at"),
    ],
)
def test_wrong_stems_change_nothing(
    api: Api, database: Database, fern: str, body: dict[str, Any], pointer: str
) -> None:
    with unchanged(database):
        refused = api.grower.post(f"/lots/{fern}/trial-stems", body)
    assert (refused.status_code, refused.get_json()["errors"][0]["pointer"]) == (422, pointer)


def test_judgements_count_what_was_there(api: Api, database: Database, fern: str) -> None:
    trial = tried(api, fern)
    address = f"/trial-stems/{trial['id']}/judgements"
    for body, pointer in (({"alive": 5, **when(3)}, "#/alive"), ({"alive": 4, **when(0.5)}, "#/at")):
        with unchanged(database):
            refused = api.grower.post(address, body)
        assert refused.get_json()["errors"][0]["pointer"] == pointer
    assert api.grower.post(f"/trial-stems/{NOWHERE}/judgements", {"alive": 1}).status_code == 404
    assert api.auditor.post(address, {"alive": 4}).status_code == 403


def test_a_lot_that_is_gone_is_not_tried(api: Api, fern: str) -> None:
    body = {"quantity": 40, "way": "destroyed", "reason": "rotten"}
    api.grower.made(f"/lots/{fern}/rejection", body)
    refused = api.grower.post(f"/lots/{fern}/trial-stems", {**PROTOCOL, "stems": 1})
    assert (refused.status_code, refused.get_json()["type"]) == (409, "/problems/not-treatable")
