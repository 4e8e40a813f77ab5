"""A connection that the server has cut meanwhile is not given to a request."""

import pytest
from sqlalchemy import text

from service.core import db
from service.core.db import Database

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
