"""Shelves over HTTP: the log of a shelf ages what stands there."""

from datetime import timedelta
from typing import Any

import pytest

from service.core.db import Database
from service.core.ids import new_id
from tests.api import Api
from tests.make_stores import bleach, copper
from tests.stores.ledger import NOW, ago, day
from tests.unchanged import unchanged

DAYS = 40


def shelf(api: Api, name: str = "cupboard") -> str:
    return str(api.grower.made("/shelves", {"name": name})["id"])


def log(first: int, last: int, celsius: float) -> dict[str, Any]:
    """A reading at each noon from so many days ago to so many."""
    moments = [(NOW - timedelta(days=n)).replace(hour=0, minute=0) for n in range(first, last, -1)]
    return {
        "readings": [{"at": at.isoformat(), "value": celsius, "unit": "Cel"} for at in moments],
        "logger": True,
    }


def read(api: Api, where: str, first: int, last: int, celsius: float) -> Any:
    return api.grower.made(f"/shelves/{where}/temperatures", log(first, last, celsius))


def patched(api: Api, batch: dict[str, Any], body: dict[str, Any]) -> Any:
    path = f"/stock-batches/{batch['id']}"
    return api.grower.send("PATCH", path, body, headers={"If-Match": api.grower.get(path).headers["ETag"]})


def today(api: Api, batch: dict[str, Any]) -> float:
    return float(api.grower.seen(f"/stock-batches/{batch['id']}")["strength_today"]["value"])


def can(api: Api, where: str | None, **changes: Any) -> dict[str, Any]:
    return bleach(api, made_on=day(-DAYS), shelf_id=where, **{**ago(DAYS), **changes})


def test_bleach_ages_by_what_was_read_where_it_stands(api: Api) -> None:
    cupboard = shelf(api)
    logged, warm, cool = can(api, cupboard), can(api, None, shelf_celsius=30), can(api, None)
    assert today(api, logged) == today(api, cool)
    assert read(api, cupboard, DAYS + 1, 0, 30) == {"recorded": DAYS + 1, "repeated": 0}
    # A shelf of 30 °C throughout is the same as the setting of 30 °C, but for the day of receipt.
    assert today(api, logged) == pytest.approx(today(api, warm), rel=0.005)
    assert today(api, logged) < today(api, cool) - 1
    listed = {b["id"]: b["strength_today"]["value"] for b in api.grower.seen("/stock-batches")["items"]}
    assert listed == {each["id"]: today(api, each) for each in (logged, warm, cool)}


def test_each_part_of_the_time_counts_where_it_was_spent(api: Api) -> None:
    hot, cold = shelf(api, "window"), shelf(api, "cellar")
    read(api, hot, DAYS + 1, 0, 35)
    read(api, cold, DAYS + 1, 0, 12)
    moved, at_window, in_cellar = can(api, hot), can(api, hot), can(api, cold)
    assert patched(api, moved, {"shelf_id": cold, **ago(20)}).get_json()["shelf_id"] == cold
    assert today(api, at_window) < today(api, moved) < today(api, in_cellar)
    taken_off = patched(api, moved, {"shelf_id": None, **ago(10)}).get_json()
    assert taken_off["shelf_id"] is None


def test_a_voided_reading_counts_no_more_and_may_be_entered_again(api: Api, database: Database) -> None:
    cupboard = shelf(api)
    batch = can(api, cupboard)
    before = today(api, batch)
    read(api, cupboard, 5, 4, 55)
    assert today(api, batch) < before
    with unchanged(database):
        other = api.grower.post(f"/shelves/{cupboard}/temperatures", log(5, 4, 25))
    assert (other.status_code, other.get_json()["type"]) == (409, "/problems/reading-differs")
    assert read(api, cupboard, 5, 4, 55) == {"recorded": 0, "repeated": 1}
    [kept] = api.grower.seen(f"/shelves/{cupboard}/temperatures")["items"]
    body = {"reason": "it lay in the sun"}
    assert api.grower.made(f"/shelf-readings/{kept['id']}/void", body)["void_reason"] == body["reason"]
    assert today(api, batch) == before
    assert api.grower.post(f"/shelf-readings/{kept['id']}/void", body).status_code == 409
    assert read(api, cupboard, 5, 4, 20)["recorded"] == 1


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"readings": []}, "#/readings"),
        ({"readings": [{"at": "2090-01-01T00:00:00Z", "value": 20, "unit": "Cel"}]}, "#/readings/0/at"),
        ({"readings": [{"at": NOW.isoformat(), "value": 200, "unit": "Cel"}]}, "#/readings/0/value"),
        ({"readings": [{"at": NOW.isoformat(), "value": 20, "unit": "K"}]}, "#/readings/0/unit"),
        ({"readings": [{"at": ago(3)["at"], "value": 20, "unit": "Cel"}]}, "#/late_reason"),
    ],
)
def test_a_bad_reading_is_named_and_none_is_kept(
    api: Api, database: Database, body: dict[str, Any], pointer: str
) -> None:
    where = shelf(api)
    with unchanged(database):
        refused = api.grower.post(f"/shelves/{where}/temperatures", body)
    assert refused.status_code == 422
    assert [error["pointer"] for error in refused.get_json()["errors"]] == [pointer]


def test_degrees_fahrenheit_are_kept_in_celsius(api: Api) -> None:
    where = shelf(api)
    body = {"readings": [{"at": NOW.isoformat(), "value": 77, "unit": "[degF]"}]}
    api.grower.made(f"/shelves/{where}/temperatures", body)
    # 77 °F = 25 °C (NIST SP 811, t/°C = (t/°F - 32)/1.8).
    assert [r["celsius"] for r in api.grower.seen(f"/shelves/{where}/temperatures")["items"]] == [25.0]


def test_a_batch_is_put_on_a_shelf_that_is_there_and_not_before_the_last_move(
    api: Api, database: Database
) -> None:
    batch, where = copper(api, **ago(5)), shelf(api)
    with unchanged(database):
        unknown = patched(api, batch, {"shelf_id": new_id()})
        early = patched(api, batch, {"shelf_id": where, **ago(6)})
    assert [error["pointer"] for error in unknown.get_json()["errors"]] == ["#/shelf_id"]
    assert early.get_json()["type"] == "/problems/before-its-cause"


def test_a_shelf_has_a_name_of_its_own(api: Api, database: Database) -> None:
    where = shelf(api)
    assert api.grower.seen(f"/shelves/{where}")["name"] == "cupboard"
    assert [each["id"] for each in api.grower.seen("/shelves")["items"]] == [where]
    with unchanged(database):
        assert api.grower.post("/shelves", {"name": "cupboard"}).status_code == 409
        assert api.grower.post("/shelves", {"name": ""}).status_code == 422
        assert api.auditor.post("/shelves", {"name": "x"}).status_code == 403
    assert api.grower.get(f"/shelves/{new_id()}").status_code == 404
    assert api.grower.post(f"/shelf-readings/{new_id()}/void", {"reason": "x"}).status_code == 404
