"""The numbers an owner is woken by: each is that of the trouble it tells of."""

import re
from collections import Counter
from datetime import timedelta

import pytest
from sqlalchemy import insert, update

from service.core.clock import utc_now
from service.core.db import Database
from service.core.ids import new_id
from service.core.jobs import OwedJob, owe
from service.core.probes import beat
from service.exchange.models import Delivery
from tests.api import Api

AGO = timedelta(minutes=20)
A_MINUTE = 60


def told(api: Api, name: str) -> dict[str, float]:
    """A metric as scraped, by its one label."""
    text = api.nobody.get("/metrics").get_data(as_text=True)
    found = re.findall(rf'^{name}{{\w+="([^"]*)"}} (\S+)$', text, re.MULTILINE)
    return {label: float(number) for label, number in found}


@pytest.mark.usefixtures("busy_house")
def test_overdue_work_is_counted_as_the_bench_is_told_of_it(api: Api) -> None:
    late = Counter(
        work["kind"] for work in api.grower.seen("/due-work?limit=200")["items"] if work["overdue"]
    )
    assert late
    assert told(api, "dipledger_overdue_work") == late


def test_a_job_that_nobody_does_grows_old_and_one_not_due_does_not(api: Api, database: Database) -> None:
    now = utc_now()
    with database.writing() as session:
        owe(session, "prove", "prove", now - AGO)
        owe(session, "roll_up", "roll_up", now + AGO)
    ages = told(api, "dipledger_owed_job_age_seconds")
    assert ages["prove"] == pytest.approx(AGO.total_seconds(), abs=A_MINUTE)
    assert "roll_up" not in ages


def test_a_job_given_up_is_counted_and_no_longer_late(api: Api, database: Database) -> None:
    now = utc_now()
    with database.writing() as session:
        owe(session, "prove", "prove", now - AGO)
        session.execute(update(OwedJob).where(OwedJob.kind == "prove").values(parked_at=now))
    assert told(api, "dipledger_parked_jobs") == {"prove": 1}
    assert "prove" not in told(api, "dipledger_owed_job_age_seconds")


def test_an_event_that_a_shop_does_not_take_grows_old_until_it_is_given_up(
    api: Api, database: Database
) -> None:
    hook = api.owner.made("/webhooks", {"name": "the shop", "url": "https://shop.example/events"})["id"]
    since = utc_now() - AGO
    waiting = {
        "id": new_id(),
        "webhook_id": hook,
        "seq": 1,
        "n": 0,
        "event_id": new_id(),
        "type": "lot.recalled",
        "subject": "lot/1",
        "due_at": since,
        "created_at": since,
    }
    with database.writing() as session:
        session.execute(insert(Delivery).values(waiting))
    assert told(api, "dipledger_undelivered_event_age_seconds") == {
        hook: pytest.approx(AGO.total_seconds(), abs=A_MINUTE)
    }
    with database.writing() as session:
        session.execute(update(Delivery).values(state="parked"))
    assert told(api, "dipledger_parked_events") == {hook: 1}
    assert told(api, "dipledger_undelivered_event_age_seconds") == {}


def test_who_keeps_the_time_is_missed_by_his_age(api: Api, database: Database) -> None:
    with database.writing() as session:
        beat(session, "beat", utc_now() - AGO)
    ages = told(api, "dipledger_heartbeat_age_seconds")
    assert ages["beat"] == pytest.approx(AGO.total_seconds(), abs=A_MINUTE)


@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
def test_when_the_database_is_gone_the_rest_is_told_all_the_same(api: Api) -> None:
    assert "dipledger_database_up 1.0" in api.nobody.get("/metrics").get_data(as_text=True)
    api.app.extensions["dipledger.database"] = Database("sqlite:////nowhere/at/all.sqlite3")
    answer = api.nobody.get("/metrics")
    assert answer.status_code == 200
    text = answer.get_data(as_text=True)
    assert "dipledger_database_up 0.0" in text
    assert "http_server_request_duration_seconds_count" in text
