"""How the ledger is read for reports."""

from typing import Any

import pytest
from sqlalchemy import event
from sqlalchemy.orm import Session

from service.reports.queries import from_ledger
from service.reports.spans import Span


def test_the_bath_of_a_line_is_found_by_its_key(session: Session) -> None:
    # Years of lines times all baths would be gone through otherwise; PostgreSQL has other ways to join.
    connection = session.connection()
    if connection.dialect.name != "sqlite":
        pytest.skip("the plan is SQLite's")
    asked: list[tuple[str, Any]] = []

    def note(_c: Any, _k: Any, statement: str, parameters: Any, *_more: Any) -> None:
        asked.append((statement, parameters))

    event.listen(connection, "before_cursor_execute", note)
    from_ledger(session, Span())
    statement, parameters = next(one for one in asked if "JOIN bath" in one[0])
    plan = connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", parameters)
    assert [row[3] for row in plan if row[3].startswith("SEARCH bath USING INDEX")]
