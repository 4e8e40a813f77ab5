"""Owed work is done once, survives dead workers and poisoned jobs, and needs no broker."""

import threading
from collections.abc import Mapping
from concurrent.futures import ThreadPoolExecutor, wait
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from service.core import jobs, probes
from service.core.db import Database
from service.core.house import house
from service.core.jobs import OwedJob
from worker import owed

NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)
Done = list[str]


@pytest.fixture
def done() -> Done:
    return []


def remember(done: Done) -> Mapping[str, jobs.Job]:
    def note(_session: Session, payload: Mapping[str, Any], _now: datetime) -> None:
        done.append(str(payload["name"]))

    def poison(_session: Session, _payload: Mapping[str, Any], _now: datetime) -> None:
        raise ValueError("spoilt")

    return {"note": note, "poison": poison}


def owe(database: Database, name: str, kind: str = "note", due: datetime = NOW) -> None:
    with database.writing() as session:
        jobs.owe(session, kind, name, due, {"name": name})


def waiting(database: Database) -> list[OwedJob]:
    with database.reading() as session:
        return list(session.scalars(select(OwedJob)))


def test_what_is_due_is_done_and_struck_off(database: Database, done: Done) -> None:
    owe(database, "tub-1")
    assert owed.run_owed(database, remember(done), lambda: NOW) == 1
    assert done == ["tub-1"]
    assert waiting(database) == []


def test_what_is_not_due_yet_waits(database: Database, done: Done) -> None:
    owe(database, "tub-1", due=NOW + timedelta(minutes=1))
    assert owed.run_owed(database, remember(done), lambda: NOW) == 0


@pytest.mark.promise(r=11)
def test_the_same_work_owed_twice_is_done_once(database: Database, done: Done) -> None:
    owe(database, "tub-1")
    owe(database, "tub-1")
    owed.run_owed(database, remember(done), lambda: NOW)
    assert done == ["tub-1"]


def test_work_owed_again_while_it_is_being_done_is_done_again(database: Database, done: Done) -> None:
    owe(database, "tub-1")
    with database.writing() as session:
        [leased] = jobs.claim(session, NOW, 1)
    owe(database, "tub-1")
    assert jobs.perform(database, leased, remember(done), NOW)
    owed.run_owed(database, remember(done), lambda: NOW)
    assert done == ["tub-1", "tub-1"]


def test_work_owed_again_is_not_struck_off_before_its_act_commits(database: Database) -> None:
    """The act that owes it is still open while a worker looks for work that is due."""
    committed = threading.Event()
    seen: list[bool] = []
    kinds = {"note": lambda _session, _payload, _now: seen.append(committed.is_set())}
    owe(database, "tub-1")
    with ThreadPoolExecutor(1) as pool:
        with database.writing() as session:
            jobs.owe(session, "note", "tub-1", NOW, {"name": "tub-1"})
            worker = pool.submit(owed.run_owed, database, kinds, lambda: NOW)
            wait([worker], timeout=0.5)
        committed.set()
        worker.result(timeout=20)
    owed.run_owed(database, kinds, lambda: NOW)
    assert any(seen)


@pytest.mark.promise(r=11)
def test_the_work_of_a_dead_worker_is_given_back_when_its_lease_runs_out(
    database: Database, done: Done
) -> None:
    owe(database, "tub-1")
    with database.writing() as session:
        jobs.claim(session, NOW, 1)
    assert owed.run_owed(database, remember(done), lambda: NOW) == 0
    later = NOW + jobs.LEASE
    owed.tick(database, (), later)
    assert owed.run_owed(database, remember(done), lambda: later) == 1


class Killed(BaseException):
    """As if the worker were dead at this place."""


@pytest.mark.promise(r=11)
def test_what_a_dead_worker_had_not_begun_waits_for_no_lease(database: Database, done: Done) -> None:
    def deadly(_session: Session, _payload: Mapping[str, Any], _now: datetime) -> None:
        raise Killed

    owe(database, "deadly", "deadly", NOW - timedelta(seconds=1))
    owe(database, "tub-1")
    with pytest.raises(Killed):
        owed.run_owed(database, {**remember(done), "deadly": deadly}, lambda: NOW)
    assert owed.run_owed(database, remember(done), lambda: NOW) == 1
    assert done == ["tub-1"]


@pytest.mark.promise(r=11)
def test_a_worker_that_lost_its_lease_changes_nothing(database: Database, done: Done) -> None:
    owe(database, "tub-1")
    with database.writing() as session:
        [leased] = jobs.claim(session, NOW, 1)
    owed.tick(database, (), NOW + jobs.LEASE)
    assert not jobs.perform(database, leased, remember(done), NOW)
    assert done == []


def test_a_job_that_reads_first_keeps_nobody_waiting_while_it_reads(database: Database, done: Done) -> None:
    def read(seen: Session, _payload: Mapping[str, Any], _now: datetime) -> int:
        before = len(seen.scalars(select(OwedJob.id)).all())
        owe(database, "meanwhile", kind="note", due=NOW + timedelta(days=1))  # a writer, who gets through
        return before

    def write(_session: Session, found: int, _now: datetime) -> None:
        done.append(f"read {found}")

    owe(database, "tonight", kind="look")
    assert owed.run_owed(database, {"look": jobs.ReadFirst(read, write)}, lambda: NOW) == 1
    assert done == ["read 1"]
    assert [job.key for job in waiting(database)] == ["meanwhile"]


def test_a_job_that_reads_first_writes_nothing_when_its_lease_ran_out_meanwhile(
    database: Database, done: Done
) -> None:
    def read(_seen: Session, _payload: Mapping[str, Any], _now: datetime) -> None:
        owed.tick(database, (), NOW + jobs.LEASE)

    def write(_session: Session, _found: None, _now: datetime) -> None:
        done.append("written")

    owe(database, "tonight", kind="look")
    assert owed.run_owed(database, {"look": jobs.ReadFirst(read, write)}, lambda: NOW) == 0
    assert done == []


def test_given_back_work_gives_way_to_the_same_work_owed_meanwhile(database: Database) -> None:
    owe(database, "tub-1")
    with database.writing() as session:
        jobs.claim(session, NOW, 1)
    owe(database, "tub-1")
    owed.tick(database, (), NOW + jobs.LEASE)
    assert len(waiting(database)) == 1


def test_a_poisoned_job_does_not_stop_the_others_and_is_parked_at_last(
    database: Database, done: Done
) -> None:
    owe(database, "bad", kind="poison")
    owe(database, "tub-1")
    now = NOW
    for _ in range(jobs.MOST_ATTEMPTS + 1):
        owed.run_owed(database, remember(done), lambda: now)  # noqa: B023  # called at once
        now += timedelta(days=1)
    assert done == ["tub-1"]
    [parked] = waiting(database)
    assert parked.parked_at is not None
    assert parked.attempts == jobs.MOST_ATTEMPTS
    assert parked.last_error == "ValueError: spoilt"


@pytest.mark.promise(r=11)
def test_a_job_that_kills_its_workers_is_parked_too(database: Database) -> None:
    owe(database, "deadly")
    now = NOW
    for _ in range(jobs.MOST_ATTEMPTS):
        with database.writing() as session:
            jobs.claim(session, now, 1)
        now += jobs.LEASE
        owed.tick(database, (), now)
    [parked] = waiting(database)
    assert parked.parked_at is not None


@pytest.mark.promise(r=13)
def test_the_night_is_owed_once_a_local_day_even_after_a_long_downtime(database: Database) -> None:
    with database.writing() as session:
        house(session).time_zone = "Europe/Lisbon"
    for hour in (0, 1, 30, 31, 24 * 9):
        owed.tick(database, ("nightly",), NOW + timedelta(hours=hour))
    keys = sorted(job.key for job in waiting(database))
    assert keys == ["2026-03-02", "2026-03-03", "2026-03-11"]


def test_a_tick_says_that_beat_lives(database: Database) -> None:
    owed.tick(database, (), NOW)
    with database.reading() as session:
        beat = session.get_one(probes.Heartbeat, "beat")
    assert beat.at == NOW
