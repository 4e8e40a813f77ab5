"""R22: no log has what somebody typed in, or a secret, not even when an act fails in the database."""

from collections.abc import Iterable, MutableMapping
from typing import Any

import pytest
from sqlalchemy import create_engine, text
from sqlalchemy.exc import OperationalError
from structlog.testing import capture_logs

from service.core import logs
from service.core.db import Database
from tests.api import Api

WHO = "Ottoline Quennell"


def written(events: Iterable[MutableMapping[str, Any]]) -> str:
    """What the service would write of these events."""
    lines = []
    for event in events:
        line: Any = dict(event)
        for processor in logs.PROCESSORS:
            line = processor(None, "error", line)
        lines.append(line)
    return "\n".join(lines)


@pytest.mark.promise(r=22)
def test_a_failing_act_logs_neither_what_was_sent_nor_the_token(api: Api, database: Database) -> None:
    secret = api.owner.made("/tokens", {"name": "canary", "role": "grower"})["secret"]
    with database.writing() as other:
        other.execute(text("ALTER TABLE supplier RENAME TO elsewhere"))
    with capture_logs() as events:
        answer = api.with_token(secret).post("/suppliers", {"name": WHO, "country": "NL"})
    assert answer.status_code == 500
    said = written(events)
    assert "INSERT INTO supplier" in said or "FROM supplier" in said
    assert WHO not in said
    assert secret not in said


@pytest.mark.promise(r=22)
def test_what_postgresql_tells_of_a_row_is_left_out() -> None:
    fault = "new row violates check\nDETAIL:  Failing row contains (7, Ottoline Quennell).\n[SQL: INSERT]"
    said = written([{"event": "unexpected", "exception": fault}])
    assert WHO not in said
    assert "violates check" in said
    assert "INSERT" in said


@pytest.mark.promise(r=22)
def test_the_library_by_itself_would_tell() -> None:
    engine = create_engine("sqlite://")
    with engine.connect() as connection, pytest.raises(OperationalError, match=WHO):
        connection.execute(text("INSERT INTO supplier VALUES (:name)"), {"name": WHO})
    engine.dispose()
