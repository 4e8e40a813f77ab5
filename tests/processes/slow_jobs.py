"""Jobs that take a while and leave a mark: to be killed at. A mark is a row: owed work that is due never."""

import time
from collections import Counter
from collections.abc import Collection, Mapping
from datetime import UTC, datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.core import jobs
from service.core.clock import utc_now
from service.core.db import Database
from service.core.ids import new_id
from service.core.jobs import OwedJob

TAKES_S = 0.1
NEVER = datetime(2100, 1, 1, tzinfo=UTC)
MARK = "mark"


def owe(database: Database, kind: str, keys: list[str]) -> None:
    """Owe a job of this kind under each key."""
    with database.writing() as session:
        for key in keys:
            jobs.owe(session, kind, key, utc_now(), {"key": key})


def left(database: Database, kinds: Collection[str]) -> list[OwedJob]:
    """What is owed of these kinds, being done or given up."""
    with database.reading() as session:
        return list(session.scalars(select(OwedJob).where(OwedJob.kind.in_(kinds))))


def marks(database: Database) -> Counter[str]:
    """How often each key was done."""
    with database.reading() as session:
        keys = session.scalars(select(OwedJob.key).where(OwedJob.kind == MARK)).all()
    return Counter(key.partition("/")[0] for key in keys)


def _mark(session: Session, key: str) -> None:
    jobs.owe(session, MARK, f"{key}/{new_id()}", NEVER)
    session.flush()


def careful(session: Session, payload: Mapping[str, Any], _now: datetime) -> None:
    """As all our jobs: what it does commits with the job's end."""
    time.sleep(TAKES_S)
    _mark(session, payload["key"])
    time.sleep(TAKES_S)


def naive(_session: Session, payload: Mapping[str, Any], _now: datetime) -> None:
    """The control: what it does commits by itself."""
    from worker.app import database as of_this_process  # noqa: PLC0415  # reads the settings of a worker

    time.sleep(TAKES_S)
    with of_this_process().writing() as apart:
        _mark(apart, payload["key"])
    time.sleep(TAKES_S)
