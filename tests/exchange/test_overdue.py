"""Work that is overdue is told once."""

from service.core import jobs
from service.core.clock import utc_now
from service.core.db import Database
from service.exchange import overdue
from service.wiring import JOBS
from tests.api import Api
from tests.make_lots import tub
from tests.make_treatments import course, lot, shelf
from worker.owed import run_owed


def looked(database: Database) -> None:
    with database.writing() as session:
        jobs.owe(session, overdue.JOB, "by hand", utc_now())
    run_owed(database, {overdue.JOB: JOBS[overdue.JOB]}, utc_now)


def test_overdue_work_is_told_once_with_what_it_is_about(api: Api, database: Database) -> None:
    shelf(api)
    pots = lot(api)
    course(api, tub(database, "T1"), [pots])
    looked(database)
    told = api.owner.seen("/events?type=work.overdue")["items"]
    work = [found for found in api.grower.seen("/due-work?limit=200")["items"] if found["overdue"]]
    assert work
    assert {event["subject"] for event in told} == {f"due-work/{found['id']}" for found in work}
    change = next(event for event in told if event["data"]["kind"] == "water_change")
    assert change["data"]["lot_ids"] == [pots]
    looked(database)
    assert api.owner.seen("/events?type=work.overdue")["items"] == told


def test_the_next_look_is_owed_once(database: Database) -> None:
    looked(database)
    looked(database)
    with database.reading() as session:
        assert jobs.outstanding(session, overdue.JOB) == [overdue.JOB]
