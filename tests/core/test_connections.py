"""A connection that the server has cut meanwhile is not given to a request."""

import time

import pytest
from sqlalchemy import text
from sqlalchemy.exc import DBAPIError

from service.core import db, silence
from service.core.db import Database, is_busy

ONE = text("SELECT 1")
SILENT = text("SELECT pg_sleep(20)")
OWN = text("SELECT pg_backend_pid()")


@pytest.mark.parametrize("database_kind", ["postgresql"], indirect=True)
def test_a_connection_that_was_cut_while_it_lay_idle_is_replaced(
    database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(db, "IDLE_S", 0.0)
    with database.connect() as other:
        with database.connect() as idle:
            cut = idle.execute(OWN).scalar_one()
        other.execute(text("SELECT pg_terminate_backend(:pid, 5000)"), {"pid": cut})
    with database.connect() as one, database.connect() as two:
        assert cut not in {one.execute(OWN).scalar_one(), two.execute(OWN).scalar_one()}


@pytest.mark.promise(r=8)
@pytest.mark.parametrize("database_kind", ["postgresql"], indirect=True)
def test_a_database_that_says_nothing_is_not_waited_for_for_ever(
    database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(silence, "SILENT_S", 0.5)
    began = time.monotonic()
    with pytest.raises(DBAPIError) as failure, database.writing() as session:
        session.execute(SILENT)
    assert time.monotonic() - began < 10
    assert is_busy(failure.value)
    with database.writing() as session:  # the next one has a connection on which no old answer comes
        assert session.execute(ONE).scalar_one() == 1
