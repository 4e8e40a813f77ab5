"""Drawing from the shelf: which batch first, what is missing, and never more than there is."""

import threading
from datetime import timedelta

import pytest
from sqlalchemy.orm import Session

from service.core.db import Database
from service.core.errors import NotFound, Refused
from service.core.ids import new_id
from service.stores.queries import batches_today
from tests.api import Api
from tests.make_stores import bleach, copper
from tests.stores.ledger import NOW, act, ago, balance, day, drawn, lines
from tests.unchanged import unchanged


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


@pytest.mark.promise(r=5)
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
