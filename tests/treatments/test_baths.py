"""One mixed bath for several lots in turn: drawn once, tested, thrown away in time."""

from datetime import datetime, timedelta
from typing import Any

import pytest

from service.core.db import Database
from service.treatments.queries import residue_of_lot, residue_of_tub
from tests.api import Api
from tests.make_lots import tub
from tests.make_stores import bleach
from tests.make_treatments import day, lot, planned, shelf, started, washed, when
from tests.unchanged import unchanged

MINUTE = 1 / 1440


def mixed(api: Api, days: float = 0.1, **changes: Any) -> Any:
    """Ten litres of the bleach dip."""
    body = {"protocol": "bleach-dip", "version": 1, "step": 2, "volume": {"value": 10, "unit": "L"}}
    return api.grower.made("/baths", {**body, **when(days), **changes})


def left(api: Api) -> float:
    [batch] = [b for b in api.grower.seen("/stock-batches")["items"] if b["material"] == "bleach"]
    return float(batch["balance"]["value"])


def dipped(api: Api, database: Database, code: str, bath: str, days: float = 0.1, **changes: Any) -> Any:
    """A lot of five plants of its own tub, washed and dipped; the step as answered."""
    treatment = planned(api, "bleach-dip", tub(database, code), [lot(api, **changes)], days)
    return started(api, treatment, 2, washed(api, treatment, days), bath_id=bath)["steps"][1]


def refused(api: Api, database: Database, bath: str, days: float) -> Any:
    treatment = planned(api, "bleach-dip", tub(database, "T9"), [lot(api)], days)
    ended = washed(api, treatment, days)
    with unchanged(database):
        body = {**when(ended), "bath_id": bath}
        response = api.grower.post(f"/treatments/{treatment}/steps/2/start", body)
    assert response.status_code == 409, response.text
    return response.get_json()


def test_a_bath_is_drawn_once_for_all_its_lots(api: Api, database: Database) -> None:
    shelf(api)
    before = left(api)
    bath = mixed(api)
    drawn = before - left(api)
    # 2700 mg/L in 10 L are 27 g; a bottle of 8.25 % NaOCl holds about 88 g/L: 0.3 L.
    assert drawn == pytest.approx(0.3, rel=0.1)
    assert (bath["usable"], bath["plants"], bath["lot_ids"]) == (False, 0, [])  # that was weeks ago
    first, second = dipped(api, database, "T1", bath["id"]), dipped(api, database, "T2", bath["id"])
    assert before - left(api) == pytest.approx(drawn)
    for step in (first, second):
        assert (step["bath_id"], step["drawn"]) == (bath["id"], [])
        assert step["result_mg_per_l"] == pytest.approx(bath["mixed_mg_per_l"])
        assert step["sheet"] == bath["sheet"]
    seen = api.grower.seen(f"/baths/{bath['id']}")
    assert len(seen["lot_ids"]) == 2
    assert seen["plants"] > 0
    assert api.grower.seen("/baths")["items"][0]["id"] == bath["id"]


def test_the_bath_clings_to_the_lot_and_not_to_the_water_it_goes_back_to(
    api: Api, database: Database
) -> None:
    shelf(api)
    place, own = tub(database, "T1"), lot(api)
    treatment = planned(api, "bleach-dip", place, [own])
    started(api, treatment, 2, washed(api, treatment), bath_id=mixed(api)["id"])
    with database.reading() as session:
        assert [r.substance for r in residue_of_lot(session, own, day(0.2))] == ["chlorine"]
        assert residue_of_tub(session, place, day(0.2)) == []


def test_a_lot_is_touched_by_those_that_were_in_the_bath_before(api: Api, database: Database) -> None:
    shelf(api)
    bath = mixed(api)["id"]
    dipped(api, database, "T1", bath)
    second = planned(api, "bleach-dip", tub(database, "T2"), [lot(api)])
    own = api.grower.seen(f"/treatments/{second}")["lot_ids"][0]
    started(api, second, 2, washed(api, second), bath_id=bath)
    kinds = [entry["kind"] for entry in api.owner.seen(f"/lots/{own}/history")["items"]]
    assert "lot.water_shared" in kinds


def test_after_an_hour_it_takes_no_more_lots(api: Api, database: Database) -> None:
    shelf(api)
    bath = mixed(api)
    at = datetime.fromisoformat(bath["mixed_at"])
    assert datetime.fromisoformat(bath["discard_at"]) == at + timedelta(hours=1)
    assert refused(api, database, bath["id"], 0.1 + 60 * MINUTE)["type"] == "/problems/bath-too-old"


def test_no_lot_is_dipped_before_the_bath_was_mixed(api: Api, database: Database) -> None:
    shelf(api)
    assert refused(api, database, mixed(api, 0.2)["id"], 0.1)["type"] == "/problems/bath-not-mixed"


def test_a_bath_that_got_weak_takes_no_more_lots(api: Api, database: Database) -> None:
    shelf(api)
    bath = mixed(api)["id"]
    reading = {"kit": "strips, high range", **when(0.1 + MINUTE)}
    path = f"/baths/{bath}/readings"
    seen = api.grower.made(path, {**reading, "strength": {"value": 2200, "unit": "mg/L"}})
    assert seen["holds_mg_per_l"] == 2200
    dipped(api, database, "T1", bath, 0.1 + 2 * MINUTE)
    # 80 % of 2700 mg/L are 2160.
    api.grower.made(path, {**reading, **when(0.1 + 20 * MINUTE), "strength": {"value": 2150, "unit": "mg/L"}})
    assert refused(api, database, bath, 0.1 + 20 * MINUTE)["type"] == "/problems/bath-too-weak"


def test_a_bath_that_was_thrown_away_takes_no_more_lots(api: Api, database: Database) -> None:
    shelf(api)
    bath = mixed(api)["id"]
    gone = {"reason": "cloudy", **when(0.1 + MINUTE)}
    seen = api.grower.post(f"/baths/{bath}/discard", gone).get_json()
    assert (seen["usable"], seen["discard_reason"]) == (False, "cloudy")
    assert api.grower.post(f"/baths/{bath}/discard", gone).status_code == 409
    assert api.grower.seen("/baths?open=true")["items"] == []
    assert refused(api, database, bath, 0.1)["type"] == "/problems/bath-discarded"


def test_a_bath_takes_no_more_plants_than_it_was_mixed_for(api: Api, database: Database) -> None:
    shelf(api)
    plants = api.grower.seen(f"/lots/{lot(api)}")["quantity"]["left"]
    bath = mixed(api, plant_load_limit=2 * plants - 1)["id"]
    dipped(api, database, "T1", bath)
    assert refused(api, database, bath, 0.1)["type"] == "/problems/bath-plant-load"


def test_what_was_really_poured_is_what_counts(api: Api, database: Database) -> None:
    batch = shelf(api)["bleach"]["id"]
    pours = [{"batch_id": batch, "amount": {"value": 200, "unit": "mL"}}]
    bath = mixed(api, poured=pours)
    assert bath["poured"] == pours
    assert bath["mixed_mg_per_l"] < bath["target_mg_per_l"] * 0.8
    assert refused(api, database, bath["id"], 0.1)["type"] == "/problems/bath-too-weak"


@pytest.mark.parametrize(
    ("changes", "status", "kind"),
    [
        ({"step": 9}, 422, "unknown-step"),
        ({"step": 1}, 409, "not-for-a-bath"),
        ({"protocol": "alum-soak"}, 409, "not-for-a-bath"),
        ({"protocol": "unheard-of"}, 422, "unknown-protocol"),
        ({"volume": {"value": 900, "unit": "L"}}, 409, "insufficient-stock"),
        ({"volume": {"value": 900, "unit": "g"}}, 422, None),
        ({"plant_load_limit": 0}, 422, None),
    ],
)
def test_a_bath_that_cannot_be_is_refused(
    api: Api, database: Database, changes: dict[str, Any], status: int, kind: str | None
) -> None:
    shelf(api)
    body = {"protocol": "bleach-dip", "version": 1, "step": 2, "volume": {"value": 10, "unit": "L"}}
    with unchanged(database):
        response = api.grower.post("/baths", {**body, **when(0.1), **changes})
    assert response.status_code == status, response.text
    assert kind is None or kind in response.text


def test_another_step_and_an_unknown_bath_are_refused(api: Api, database: Database) -> None:
    shelf(api)
    bath = mixed(api)["id"]
    treatment = planned(api, "permanganate-dip", tub(database, "T1"), [lot(api)])
    ended = washed(api, treatment)
    start = f"/treatments/{treatment}/steps/2/start"
    wrong = api.grower.post(start, {**when(ended), "bath_id": bath})
    assert (wrong.status_code, wrong.get_json()["type"]) == (409, "/problems/wrong-bath")
    unknown = "00000000-0000-7000-8000-000000000000"
    assert api.grower.post(start, {**when(ended), "bath_id": unknown}).status_code == 422
    pours = [{"batch_id": unknown, "amount": {"value": 1, "unit": "mL"}}]
    both = api.grower.post(start, {**when(ended), "bath_id": bath, "poured": pours})
    assert [error["pointer"] for error in both.get_json()["errors"]] == ["#/poured"]


def test_a_fresh_bath_is_usable_now(api: Api) -> None:
    bleach(api)
    body = {"protocol": "bleach-dip", "version": 1, "step": 2, "volume": {"value": 2, "unit": "L"}}
    bath = api.grower.made("/baths", body)
    assert (bath["usable"], bath["why_not"]) == (True, [])


def test_what_a_bath_took_is_in_the_report_once(api: Api, database: Database) -> None:
    shelf(api)
    bath = mixed(api)
    for code in ("T1", "T2"):
        dipped(api, database, code, bath["id"])
    days = f"from={day(0).date()}&to={day(1).date()}"
    totals = {
        by: sum(
            float(row["used"]["value"])
            for row in api.grower.seen(f"/reports/consumption?{days}&by={by}")["rows"]
        )
        for by in ("material", "protocol", "lot")
    }
    assert totals["protocol"] == pytest.approx(totals["material"])
    assert totals["lot"] == pytest.approx(totals["material"])
    lots = api.grower.seen(f"/reports/consumption?{days}&by=lot")["rows"]
    assert len({row["key"]["lot_id"] for row in lots} - {None}) == 2
    protocols = api.grower.seen(f"/reports/consumption?{days}&by=protocol")["rows"]
    assert [row["key"]["protocol"] for row in protocols] == ["bleach-dip"]
