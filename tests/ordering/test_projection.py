"""The stock day by day over HTTP."""

import csv
import io
from datetime import UTC, datetime, timedelta

import pytest

from service.core.db import Database
from tests.api import Api
from tests.make_lots import tub
from tests.make_stores import copper
from tests.make_treatments import course, lot, shelf


def test_sixty_days_are_told_if_nothing_is_ordered(api: Api) -> None:
    copper(api, 1, expires_on=(datetime.now(UTC) + timedelta(days=10)).date().isoformat())
    rows = api.grower.seen("/reports/projection?material=copper-stock")["rows"]
    today = datetime.now(UTC).date()
    assert [row["day"] for row in rows] == [(today + timedelta(days=n)).isoformat() for n in range(60)]
    assert rows[10]["balance"] == {"value": "1", "unit": "L"}
    assert rows[11]["expires"] == {"value": "1", "unit": "L"}
    assert float(rows[11]["balance"]["value"]) == 0


def test_the_doses_of_a_course_are_taken_off_on_their_days(api: Api, database: Database) -> None:
    shelf(api)
    course(api, tub(database, "T1"), [lot(api)], days=45)
    report = api.grower.seen("/reports/reorder")["rows"]
    committed = next(row["committed"] for row in report if row["material"] == "copper-stock")
    rows = api.grower.seen("/reports/projection?material=copper-stock")["rows"]
    doses = [float(row["committed"]["value"]) for row in rows if float(row["committed"]["value"])]
    assert len(doses) > 3
    assert sum(doses) == pytest.approx(float(committed["value"]), abs=0.01)


def test_all_materials_are_told_when_none_is_named(api: Api, database: Database) -> None:
    shelf(api)
    rows = api.grower.seen("/reports/projection?days=2")["rows"]
    assert len(rows) == 2 * 6
    assert [row["material"] for row in rows] == sorted(row["material"] for row in rows)


def test_it_is_csv_when_asked(api: Api) -> None:
    copper(api)
    response = api.grower.get("/reports/projection?days=3", Accept="text/csv")
    assert response.mimetype == "text/csv"
    lines = response.text.splitlines()
    assert lines[0].startswith("material,day,committed.value,committed.unit")
    assert len(lines) == 4


def test_what_is_missing_is_a_number_in_csv(api: Api, database: Database) -> None:
    bottle = shelf(api)["copper-stock"]
    course(api, tub(database, "T1"), [lot(api)], days=45)
    body = {"batch_id": bottle["id"], "quantity": {"value": 960, "unit": "mL"}}
    api.grower.made("/stock-disposals", {**body, "way": "spilled", "reason": "knocked over"})
    response = api.grower.get("/reports/projection?days=30&material=copper-stock", Accept="text/csv")
    last = list(csv.DictReader(io.StringIO(response.text)))[-1]
    assert float(last["balance.value"]) < 0


@pytest.mark.parametrize(
    ("query", "status"), [("material=unheard-of", 404), ("days=0", 422), ("days=181", 422), ("days=x", 422)]
)
def test_what_cannot_be_told_is_refused(api: Api, query: str, status: int) -> None:
    assert api.grower.get(f"/reports/projection?{query}").status_code == status
