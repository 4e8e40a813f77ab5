"""The reorder report over HTTP, and the job that watches it."""

from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy.orm import Session

from service.core.db import Database
from service.journal.acts import Act
from service.ordering.actions import check_reorder
from service.stores.actions import draw
from service.stores.queries import material_by_code
from tests.api import Api
from tests.make_lots import tub
from tests.make_stores import batch_of, copper, material_named
from tests.make_treatments import course, lot, shelf

NOW = datetime.now(UTC)
LATE = "entered from the notebook"


def ago(days: float) -> dict[str, Any]:
    return {"at": (NOW - timedelta(days=days)).isoformat(), "late_reason": LATE}


def use(session: Session, base_units: int, days_ago: float, code: str = "copper-stock") -> None:
    act = Act("tests", NOW - timedelta(days=days_ago), NOW)
    material = material_by_code(session, code)
    draw(
        session,
        act,
        material=material,
        base_units=base_units,
        reason="treatment",
        cause_kind="treatment_step",
        cause_id="1",
    )


def row(api: Api, code: str) -> Any:
    rows = api.grower.seen("/reports/reorder")["rows"]
    return next(found for found in rows if found["material"] == code)


def test_a_house_without_stock_has_nothing_to_order(api: Api) -> None:
    assert api.grower.seen("/reports/reorder") == {"rows": []}


def test_stock_without_history_says_so(api: Api) -> None:
    copper(api)
    found = row(api, "copper-stock")
    assert found["usable"] == {"value": "1", "unit": "L"}
    assert (found["enough_history"], found["order_by"], found["packs"]) == (False, None, None)
    assert any("Fewer than two days of use" in reason for reason in found["reasons"])


def test_history_gives_expected_use_and_a_reorder_point(api: Api, database: Database) -> None:
    copper(api, 1, **ago(19))
    with database.writing() as session:
        for days in range(20):
            use(session, 10_000, days)
    found = row(api, "copper-stock")
    # Ten mL a day without variation, seven days to deliver; 800 mL last 80 days.
    assert found["enough_history"]
    assert found["expected"] == found["reorder_point"] == {"value": "70", "unit": "mL"}
    assert found["usable"] == {"value": "800", "unit": "mL"}
    today = datetime.now(UTC).date()
    assert found["runs_out_on"] == (today + timedelta(days=80)).isoformat()
    assert found["order_by"] == (today + timedelta(days=73)).isoformat()


def test_what_cannot_be_used_is_not_counted(api: Api) -> None:
    copper(api, 1, expires_on=(NOW - timedelta(days=1)).date().isoformat())
    found = row(api, "copper-stock")
    assert found["usable"] == {"value": "0", "unit": "mL"}
    assert "Nothing usable is left." in found["reasons"]


def test_a_running_course_has_its_doses_set_aside(api: Api, database: Database) -> None:
    shelf(api)
    course(api, tub(database, "T1"), [lot(api)], days=45)
    committed = row(api, "copper-stock")["committed"]
    # Twice a week for 28 days in 40 L at 0.4 mg/L of 1 g/L stock is at most 8 x 16 mL.
    assert committed["unit"] == "mL"
    assert 16 < float(committed["value"]) <= 8 * 16


def test_the_report_is_csv_when_asked(api: Api) -> None:
    copper(api)
    response = api.grower.get("/reports/reorder", Accept="text/csv")
    assert response.mimetype == "text/csv"
    assert response.text.startswith("material,usable.value,usable.unit")


def test_the_order_is_told_with_its_cost(api: Api, database: Database) -> None:
    copper(api, 0.2, **ago(9))
    path = f"/materials/{material_named(api, 'copper-stock')['id']}"
    terms = {
        "pack": {"value": 100, "unit": "mL"},
        "least_order": {"value": 500, "unit": "mL"},
        "pack_cost": {"value": "7.50", "currency": "EUR"},
        "order_cost": {"value": "4", "currency": "EUR"},
    }
    api.manager.send("PATCH", path, terms, headers={"If-Match": api.manager.get(path).headers["ETag"]})
    with database.writing() as session:
        for days in range(10):
            use(session, 15_000, days)
    found = row(api, "copper-stock")
    assert found["packs"] >= 5
    assert found["quantity"] == {"value": str(found["packs"] * 100), "unit": "mL"} or found["packs"] >= 10
    assert found["cost"] == {"value": f"{found['packs'] * 7.5 + 4:.2f}", "currency": "EUR"}
    assert (found["intermittent"], found["will_expire"]) == (False, False)


def test_the_journal_takes_note_once_of_what_gets_low_and_of_what_recovers(
    api: Api, database: Database
) -> None:
    batch = copper(api, 0.2, **ago(9))
    batch_of(api, "potassium-alum", 1, "kg")
    with database.writing() as session:
        for days in range(10):
            use(session, 15_000, days)

    def kinds() -> list[str]:
        for _ in range(2):
            with database.writing() as session:
                check_reorder(session, {}, datetime.now(UTC))
        trail = api.owner.seen("/audit?limit=200")["items"]
        return [entry["kind"] for entry in trail if entry["kind"] in {"stock.low", "stock.recovered"}]

    assert batch["material"] == "copper-stock"
    assert kinds() == ["stock.low"]
    copper(api, 5)
    assert kinds() == ["stock.low", "stock.recovered"]
