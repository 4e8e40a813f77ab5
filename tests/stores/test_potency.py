"""Until when a bottle that loses its strength may be used, and who is told."""

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.db import Database
from service.stores.expiry import check_expiry
from service.stores.rules_potency import AHEAD_DAYS, strong_enough, usable_until
from tests.api import Api
from tests.make_stores import bleach, copper
from tests.stores.test_rules import FILLED, after
from tests.stores.test_rules import bleach as bottle


def test_what_keeps_its_strength_is_used_until_its_label_says() -> None:
    facts = bottle(ageing=None, expires_on=after(300))
    assert usable_until(facts, FILLED) == after(300)
    assert usable_until(facts, after(299)) == after(300)


def test_bleach_is_used_until_a_share_of_it_is_gone() -> None:
    # Common practice, no source: months on a cool shelf, weeks on a hot one.
    cool, hot = bottle(), bottle(shelf_celsius=35.0)
    assert usable_until(hot, FILLED) < usable_until(cool, FILLED) <= after(365)
    last = usable_until(hot, FILLED)
    assert strong_enough(hot, last)
    assert not strong_enough(hot, last + timedelta(days=1))


def test_a_bottle_out_of_date_stays_so() -> None:
    assert usable_until(bottle(expires_on=after(10)), after(20)) == after(10)


def test_a_bottle_that_is_too_weak_today_was_usable_until_yesterday_at_most() -> None:
    assert usable_until(bottle(shelf_celsius=35.0), after(200)) == after(199)


@given(st.floats(10, 40), st.integers(0, 300), st.floats(0.3, 0.95))
def test_every_day_until_then_is_strong_enough(celsius: float, day: int, least: float) -> None:
    facts, on = bottle(shelf_celsius=celsius, block_below_share=least), after(day)
    last = min(usable_until(facts, on), on + timedelta(days=AHEAD_DAYS))
    for checked in {on, on + (last - on) / 2, last}:
        assert not on <= checked <= last or strong_enough(facts, checked)


def told(api: Api, batch: str) -> list[str]:
    trail = api.owner.seen(f"/audit?subject=stock_batch/{batch}")["items"]
    return [entry["kind"] for entry in trail if entry["kind"].startswith("stock.")]


def look(database: Database) -> None:
    with database.writing() as session:
        check_expiry(session, {}, datetime.now(UTC))


def test_a_bottle_too_weak_is_to_be_tested_and_may_be_strong_again(api: Api, database: Database) -> None:
    made = (datetime.now(UTC) - timedelta(days=200)).date()
    batch = bleach(api, made_on=made.isoformat(), shelf_celsius=35)["id"]
    copper(api)
    for _ in range(2):
        look(database)
    assert told(api, batch) == ["stock.batch_received", "stock.too_weak"]
    [work] = api.grower.seen("/due-work?kind=dispose")["items"]
    assert work["title"].startswith("Test or dispose of ")
    path = f"/stock-batches/{batch}"
    body = {"measured_strength": {"value": 80, "unit": "g/L"}}
    tag = api.grower.get(path).headers["ETag"]
    assert api.grower.send("PATCH", path, body, headers={"If-Match": tag}).status_code == 200
    look(database)
    assert "stock.strong_again" in told(api, batch)
    assert api.grower.seen("/due-work?kind=dispose")["items"] == []


def test_the_projection_loses_bleach_on_the_day_it_is_too_weak(api: Api) -> None:
    today = datetime.now(UTC).date()
    bleach(api, 5, made_on=today.isoformat(), shelf_celsius=35)
    rows = api.grower.seen("/reports/projection?material=bleach&days=120")["rows"]
    gone = [date.fromisoformat(row["day"]) for row in rows if float(row["expires"]["value"])]
    assert len(gone) == 1
    assert today < gone[0] < today + timedelta(days=120)


@pytest.mark.parametrize("on", [FILLED, after(10)])
def test_an_age_beyond_the_model_is_not_strong_enough(on: date) -> None:
    assert not strong_enough(bottle(strength_g_per_l=500.0), on + timedelta(days=1))
