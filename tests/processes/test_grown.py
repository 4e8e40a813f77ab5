"""Separate web, worker and beat on a real PostgreSQL and a real Redis."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from service.core import jobs
from service.core.clock import utc_now
from service.core.db import Database
from service.wiring import open_database
from tests.house import SECRET, Templates, settings_for
from tests.processes.house import House, answers, free_port, send, until, verdicts
from tests.servers import redis

TUB = "00000000-0000-7000-8000-000000000000"


@pytest.fixture
def address(templates: Templates) -> str:
    return templates.afresh("postgresql")


@pytest.fixture
def broker() -> Iterator[str]:
    with redis() as url:
        yield url


@pytest.fixture
def house(address: str, broker: str, tmp_path: Path) -> House:
    return House(
        tmp_path / "home",
        DIPLEDGER_DATABASE_URL=address,
        DIPLEDGER_REDIS_URL=broker,
        DIPLEDGER_SECRET_KEY=SECRET,
        DIPLEDGER_UNSAFE_DATABASE="yes",  # the test server trades safety for speed
    )


@pytest.fixture
def database(address: str, tmp_path: Path) -> Iterator[Database]:
    found = open_database(settings_for(address, tmp_path))
    yield found
    found.dispose()


def owed(database: Database) -> list[str]:
    """The tubs still to be projected; the house owes itself other work that is never done for good."""
    with database.reading() as session:
        return list(jobs.outstanding(session, "project_tub"))


def test_web_worker_and_beat_work_together(house: House) -> None:
    port = free_port()
    house.run("db", "upgrade")
    token = house.run("token", "create", "--role", "owner", "--name", "Ana")
    with house.started("web", "--port", str(port)), house.started("worker"), house.started("beat"):
        until(lambda: answers(port), "the web answers")
        supplier = {"name": "Fenmarsh Growers", "country": "NL"}
        assert send(port, "POST", "/api/v1/suppliers", supplier, token)[0] == 201
        until(lambda: set(verdicts(port).values()) == {"pass"}, "everything is ready")


@pytest.mark.promise(r=10)
def test_what_was_owed_while_no_worker_ran_is_done_by_the_next_one(house: House, database: Database) -> None:
    with database.writing() as session:
        jobs.owe(session, "project_tub", TUB, utc_now(), {"key": TUB})
    assert owed(database) == [TUB]
    with house.started("worker"), house.started("beat"):
        until(lambda: not owed(database), "the owed job is done")
