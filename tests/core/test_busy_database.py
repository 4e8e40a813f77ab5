"""A database that is busy or gone for a moment says "again", and the act sent again happens once."""

from collections.abc import Iterator
from typing import Any

import pytest
from flask import Flask
from sqlalchemy import text

from service.core.db import Database
from service.core.settings import Settings
from service.wiring import open_database
from tests.api import Api, Contract

SUPPLIER: dict[str, Any] = {"name": "Brookside Aquatics", "country": "PT"}
KEY = {"Idempotency-Key": "once-0001"}


@pytest.fixture
def impatient(api: Api, served: tuple[Flask, Contract], settings: Settings) -> Iterator[Api]:
    """A house that waits a tenth of a second for a lock."""
    quick = open_database(settings, lock_wait_s=0.1)
    served[0].extensions["dipledger.database"] = quick
    yield api
    quick.dispose()


def names(api: Api) -> list[str]:
    return [supplier["name"] for supplier in api.grower.seen("/suppliers")["items"]]


@pytest.mark.promise(r=8)
def test_an_act_that_cannot_have_its_lock_is_answered_with_try_again(
    impatient: Api, database: Database, database_kind: str
) -> None:
    with database.writer() as other:
        if database_kind == "postgresql":  # SQLite's other writer holds the whole database anyway
            other.execute(text("LOCK TABLE supplier IN ACCESS EXCLUSIVE MODE"))
        else:
            other.execute(text("SELECT 1"))
        answer = impatient.grower.post("/suppliers", SUPPLIER, **KEY)
    assert (answer.status_code, answer.mimetype) == (503, "application/problem+json")
    assert answer.headers["Retry-After"] == "1"
    assert answer.get_json()["type"] == "/problems/unavailable"
    assert names(impatient) == []


@pytest.mark.promise(r=9)
def test_the_same_act_sent_again_happens_once(impatient: Api, database: Database, database_kind: str) -> None:
    with database.writer() as other:
        if database_kind == "postgresql":
            other.execute(text("LOCK TABLE journal_entry IN ACCESS EXCLUSIVE MODE"))
        else:
            other.execute(text("SELECT 1"))
        assert impatient.grower.post("/suppliers", SUPPLIER, **KEY).status_code == 503
    assert impatient.grower.post("/suppliers", SUPPLIER, **KEY).status_code == 201
    assert impatient.grower.post("/suppliers", SUPPLIER, **KEY).status_code == 201
    assert names(impatient) == ["Brookside Aquatics"]


@pytest.mark.promise(r=9)
def test_a_fault_that_waiting_does_not_mend_stays_a_fault(impatient: Api, database: Database) -> None:
    with database.writing() as other:
        other.execute(text("ALTER TABLE supplier RENAME TO elsewhere"))
    answer = impatient.grower.get("/suppliers")
    assert (answer.status_code, answer.get_json()["type"]) == (500, "/problems/internal")
