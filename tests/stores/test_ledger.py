"""The ledger: draws, counts, disposals, reversals; balances that are always the sum of their lines."""

import threading
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy.orm import Session

from service.core.db import Database
from service.core.errors import NotFound, Refused
from service.core.ids import new_id
from service.journal.acts import Act
from service.stores.actions import Drawn, draw
from service.stores.expiry import check_expiry
from service.stores.ledger import wrong_balances
from service.stores.queries import batches_today, material_by_code
from tests.api import Api
from tests.make_stores import batch_of, bleach, copper
from tests.unchanged import unchanged

NOW = datetime.now(UTC)
LATE = "entered from the notebook"


def act(days_ago: float = 0) -> Act:
    return Act("tests", datetime.now(UTC) - timedelta(days=days_ago), datetime.now(UTC))


def drawn(session: Session, code: str, base_units: int, **changes: Any) -> list[Drawn]:
    asked: dict[str, Any] = {
        "reason": "treatment",
        "cause_kind": "treatment_step",
        "cause_id": "1",
        **changes,
    }
    doing = asked.pop("act", None) or act()
    return draw(session, doing, material=material_by_code(session, code), base_units=base_units, **asked)


def day(days: int) -> str:
    return (datetime.now(UTC) + timedelta(days=days)).date().isoformat()


def balance(api: Api, batch: dict[str, Any]) -> str:
    found = api.grower.seen(f"/stock-batches/{batch['id']}")["balance"]
    return f"{found['value']} {found['unit']}"


def ago(days: int) -> dict[str, Any]:
    return {"at": (NOW - timedelta(days=days)).isoformat(), "late_reason": LATE}


def lines(api: Api, query: str) -> list[tuple[str, str]]:
    items = api.grower.seen(f"/stock-entries?{query}")["items"]
    return [(item["reason"], f"{item['amount']['value']} {item['amount']['unit']}") for item in items]


def test_a_draw_takes_the_first_to_expire_first(api: Api, database: Database) -> None:
    # Worked by hand: of 350 mL, 200 come from the bottle that expires first and 150 from the other.
    later, sooner = copper(api, 0.3, expires_on=day(60)), copper(api, 0.2, expires_on=day(30))
    with database.writing() as session:
        found = drawn(session, "copper-stock", 350_000)
    assert [(each.batch_id, each.amount) for each in found] == [
        (sooner["id"], 200_000),
        (later["id"], 150_000),
    ]
    assert (balance(api, sooner), balance(api, later)) == ("0 mL", "150 mL")
    assert lines(api, "material=copper-stock")[-2:] == [("treatment", "-200 mL"), ("treatment", "-150 mL")]


def test_a_draw_can_name_its_batch(api: Api, database: Database) -> None:
    later, sooner = copper(api, 0.3, expires_on=day(60)), copper(api, 0.2, expires_on=day(30))
    with database.writing() as session:
        drawn(session, "copper-stock", 100_000, batch_id=later["id"])
    assert (balance(api, sooner), balance(api, later)) == ("200 mL", "200 mL")


def test_a_draw_of_nothing_writes_nothing(api: Api, database: Database) -> None:
    copper(api)
    with unchanged(database), database.writing() as session:
        assert drawn(session, "copper-stock", 0) == []


def test_a_negative_draw_is_a_mistake_of_the_program(session: Session) -> None:
    with pytest.raises(ValueError, match="zero or more"):
        drawn(session, "copper-stock", -1)


def test_a_shortage_says_what_is_needed_and_what_is_there(api: Api, database: Database) -> None:
    copper(api, 0.1)
    copper(api, 5, expires_on=day(-1))
    with unchanged(database), database.writer() as session:
        with pytest.raises(Refused) as refusal:
            drawn(session, "copper-stock", 400_000)
        session.rollback()
    first, second = refusal.value.reasons
    assert (first.code, first.needed, first.have) == ("insufficient-stock", "400 mL", "100 mL")
    assert (second.code, "expired" in second.detail) == ("batch-not-usable", True)


def test_a_course_gets_only_what_keeps_until_its_end(api: Api, database: Database) -> None:
    copper(api, 1, expires_on=day(10))
    with database.writer() as session, pytest.raises(Refused, match="Not enough"):
        drawn(session, "copper-stock", 1, last_use=(NOW + timedelta(days=11)).date())


@pytest.mark.parametrize("why", ["expired", "other material", "empty", "too little"])
def test_a_named_batch_must_be_fit(api: Api, database: Database, why: str) -> None:
    small = copper(api, 0.001)
    batch = {
        "expired": lambda: copper(api, expires_on=day(-1)),
        "other material": lambda: bleach(api),
        "empty": lambda: small,
        "too little": lambda: small,
    }[why]()
    code = {"expired": "batch-not-usable", "other material": "wrong-material"}.get(why, "insufficient-stock")
    with database.writing() as session:
        if why == "empty":
            drawn(session, "copper-stock", 1000, batch_id=small["id"])
    with unchanged(database), database.writer() as session, pytest.raises(Refused) as refusal:
        drawn(session, "copper-stock", 2000, batch_id=batch["id"])
    assert refusal.value.code == code


def test_an_unknown_batch_is_not_found(session: Session) -> None:
    with pytest.raises(NotFound):
        drawn(session, "copper-stock", 1, batch_id=new_id())


def test_what_was_not_here_yet_cannot_be_drawn(api: Api, database: Database) -> None:
    copper(api)
    with database.writer() as session, pytest.raises(Refused, match="Not enough"):
        drawn(session, "copper-stock", 1, act=act(days_ago=2))


def test_a_draw_in_the_past_counts_the_strength_of_that_day(api: Api, database: Database) -> None:
    bleach(api, made_on=day(-50), shelf_celsius=30, **ago(50))
    with database.writing() as session:
        then = batches_today(session, ["bleach"], NOW - timedelta(days=50))["bleach"][0].g_per_l
        today = batches_today(session, ["bleach"], NOW)["bleach"][0].g_per_l
        assert then is not None
        assert today is not None
        assert then > today
        drawn(session, "bleach", 1_000_000, act=act(days_ago=50))
    report = api.grower.seen(f"/reports/consumption?from={day(-51)}&to={day(0)}")["rows"][0]
    assert float(report["active_mass"]["value"]) == pytest.approx(then, abs=0.001)  # of 1 L


@pytest.mark.parametrize(
    ("counted", "booked"), [(900, [("count", "-100 mL")]), (1100, [("count", "100 mL")]), (1000, [])]
)
def test_a_count_books_the_difference_as_its_own_line(
    api: Api, counted: int, booked: list[tuple[str, str]]
) -> None:
    batch = copper(api)
    body = {"batch_id": batch["id"], "counted": {"value": counted, "unit": "mL"}, "note": "stocktaking"}
    made = api.grower.made("/stock-counts", body)
    assert lines(api, f"batch={batch['id']}")[1:] == booked
    assert (made["entry_id"] is None) == (booked == [])
    assert balance(api, batch) == (f"{counted} mL" if counted < 1000 else f"{counted / 1000:g} L")


def test_a_count_in_the_past_is_held_against_the_lines_up_to_then(api: Api, database: Database) -> None:
    batch = copper(api, 1, **ago(5))
    with database.writing() as session:
        drawn(session, "copper-stock", 300_000)
    body = {"batch_id": batch["id"], "counted": {"value": 950, "unit": "mL"}}
    made = api.grower.made("/stock-counts", {**body, **ago(2)})
    assert made["expected"] == {"value": "1", "unit": "L"}
    assert made["difference"] == {"value": "-50", "unit": "mL"}
    assert balance(api, batch) == "650 mL"


@pytest.mark.parametrize(("way", "reason"), [("spilled", "spill"), ("sewer", "disposal")])
def test_a_disposal_says_how_it_left(api: Api, way: str, reason: str) -> None:
    batch = copper(api, expires_on=day(-1))
    body = {"batch_id": batch["id"], "quantity": {"value": 1, "unit": "L"}, "way": way, "reason": "old"}
    made = api.grower.made("/stock-disposals", body)
    assert (made["reason"], made["way"], made["note"]) == (reason, way, "old")
    assert balance(api, batch) == "0 mL"


@pytest.mark.parametrize(
    ("quantity", "status"),
    [
        ({"value": 2, "unit": "L"}, 409),
        ({"value": 0, "unit": "L"}, 422),
        ({"value": 2, "unit": "g"}, 422),
        ({"value": 2, "unit": "parsec"}, 422),
    ],
)
def test_more_than_is_there_or_no_quantity_is_not_disposed_of(
    api: Api, database: Database, quantity: dict[str, Any], status: int
) -> None:
    body = {"batch_id": copper(api)["id"], "quantity": quantity, "way": "sewer", "reason": "old"}
    with unchanged(database):
        assert api.grower.post("/stock-disposals", body).status_code == status


@pytest.mark.parametrize("path", ["/stock-counts", "/stock-disposals"])
def test_a_batch_is_not_counted_or_disposed_of_before_it_came(
    api: Api, database: Database, path: str
) -> None:
    amount = {"value": 1, "unit": "mL"}
    more = {"counted": amount} if "counts" in path else {"quantity": amount, "way": "sewer", "reason": "x"}
    body = {"batch_id": copper(api)["id"], **more, **ago(2)}
    with unchanged(database):
        assert api.grower.post(path, body).get_json()["type"] == "/problems/before-its-cause"
        assert api.grower.post(path, {**body, "batch_id": new_id()}).status_code == 422


def test_a_line_is_reversed_once_by_a_second_line(api: Api, database: Database) -> None:
    batch = copper(api)
    body = {"batch_id": batch["id"], "quantity": {"value": 1, "unit": "mL"}, "way": "spilled", "reason": "x"}
    spilled = api.grower.made("/stock-disposals", body)
    undone = api.grower.made(f"/stock-entries/{spilled['id']}/reversal", {"reason": "it was water"})
    assert (undone["reason"], undone["reverses_id"]) == ("reversal", spilled["id"])
    assert balance(api, batch) == "1 L"
    with unchanged(database):
        again = api.grower.post(f"/stock-entries/{spilled['id']}/reversal", {"reason": "again"})
        back = api.manager.post(f"/stock-entries/{undone['id']}/reversal", {"reason": "no"})
    assert [again.status_code, back.status_code] == [409, 409]
    assert again.get_json()["reasons"][0]["code"] == "already-reversed"


def test_what_a_treatment_drew_is_reversed_by_a_manager_only(api: Api, database: Database) -> None:
    batch = copper(api)
    with database.writing() as session:
        drawn(session, "copper-stock", 1000)
    entry = api.grower.seen(f"/stock-entries?batch={batch['id']}")["items"][-1]["id"]
    path = f"/stock-entries/{entry}/reversal"
    with unchanged(database):
        assert api.grower.post(path, {"reason": "wrong tub"}).status_code == 403
    assert api.manager.made(path, {"reason": "wrong tub"})["amount"] == {"value": "1", "unit": "mL"}


def test_a_receipt_that_was_used_from_is_not_reversed(api: Api, database: Database) -> None:
    batch = copper(api)
    receipt = api.grower.seen(f"/stock-entries?batch={batch['id']}")["items"][0]["id"]
    with database.writing() as session:
        drawn(session, "copper-stock", 1000)
    with unchanged(database):
        response = api.manager.post(f"/stock-entries/{receipt}/reversal", {"reason": "never came"})
    assert response.get_json()["type"] == "/problems/insufficient-stock"


def test_an_unknown_line_is_not_found(api: Api) -> None:
    assert api.manager.post(f"/stock-entries/{new_id()}/reversal", {"reason": "x"}).status_code == 404


def test_lines_are_found_by_local_day(api: Api) -> None:
    copper(api, **ago(3))
    assert len(lines(api, f"from={day(-4)}&to={day(-2)}")) == 1
    assert lines(api, f"from={day(-1)}") == []
    assert lines(api, f"to={day(-5)}") == []


def test_two_draws_at_once_never_take_more_than_there_is(api: Api, database: Database) -> None:
    batch = copper(api, 1)
    outcomes: list[str] = []
    start = threading.Barrier(4)

    def take() -> None:
        start.wait()
        try:
            with database.writing() as session:
                drawn(session, "copper-stock", 400_000)
            outcomes.append("drawn")
        except Refused as refusal:
            outcomes.append(refusal.code)

    threads = [threading.Thread(target=take) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(outcomes) == ["drawn", "drawn", "insufficient-stock", "insufficient-stock"]
    assert balance(api, batch) == "200 mL"


@settings(max_examples=10, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.lists(st.integers(1, 700_000), max_size=6))
def test_a_balance_is_always_the_sum_of_its_lines(api: Api, database: Database, amounts: list[int]) -> None:
    copper(api, 0.5)
    for amount in amounts:
        with database.writer() as session:
            try:
                drawn(session, "copper-stock", amount)
                session.commit()
            except Refused:
                session.rollback()
    with database.reading() as session:
        assert wrong_balances(session) == []


def test_the_journal_takes_note_of_an_expired_batch_once(api: Api, database: Database) -> None:
    expired = copper(api, expires_on=day(-1))
    batch_of(api, "potassium-alum", 1, "kg")
    for _ in range(2):
        with database.writing() as session:
            check_expiry(session, {}, datetime.now(UTC))
    trail = api.owner.seen(f"/audit?subject=stock_batch/{expired['id']}")["items"]
    assert [item["kind"] for item in trail] == ["stock.batch_received", "stock.expired"]
    everything = [item["kind"] for item in api.owner.seen("/audit?limit=200")["items"]]
    assert everything.count("stock.expired") == 1
