"""The database: declarative base, column types, and the two ways to open a session.

Writers on SQLite begin IMMEDIATE, so that two of them never act on the same stale read;
readers on PostgreSQL run in autocommit, which saves two round trips.
"""

import sqlite3
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from functools import partial
from typing import Annotated, Any

import orjson
import psycopg
from sqlalchemy import (
    JSON,
    BigInteger,
    Connection,
    DateTime,
    Dialect,
    Engine,
    MetaData,
    String,
    Uuid,
    create_engine,
    event,
)
from sqlalchemy.exc import DBAPIError, InvalidatePoolError, OperationalError
from sqlalchemy.orm import DeclarativeBase, Mapped, Session, mapped_column, sessionmaker
from sqlalchemy.pool import ConnectionPoolEntry
from sqlalchemy.types import TypeDecorator

from service.core import lane, silence
from service.core.ids import new_id

NAMING = {
    "ix": "ix_%(table_name)s_%(column_0_N_name)s",
    "uq": "uq_%(table_name)s_%(column_0_N_name)s",
    "ck": "ck_%(table_name)s_%(constraint_name)s",
    "fk": "fk_%(table_name)s_%(column_0_N_name)s",
    "pk": "pk_%(table_name)s",
}

LOCK_WAIT_S = 5.0  # longer than any act takes, shorter than people wait before they press again
IDLE_S = 1.0
PASSING_STATES = {"40001": "serialization", "40P01": "deadlock"}
BUSY_STATES = {"40001", "40P01", "53300", "55P03", "57P01", "57P02", "57P03"}


class UtcDateTime(TypeDecorator[datetime]):
    """An aware moment, kept in UTC; naive values are refused."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Turn an aware moment into UTC; SQLite stores it without the offset."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("A moment without a time zone cannot be stored.")
        value = value.astimezone(UTC)
        return value.replace(tzinfo=None) if dialect.name == "sqlite" else value

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """Give the moment back in UTC."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


# Text on SQLite, which has no such type: a page of lots would spend half its time on conversions.
ID_TYPE = Uuid(as_uuid=False).with_variant(String(36), "sqlite")
Id = Annotated[str, mapped_column(ID_TYPE)]
NewId = Annotated[str, mapped_column(ID_TYPE, primary_key=True, default=new_id)]
Moment = Annotated[datetime, mapped_column(UtcDateTime())]
BaseUnits = Annotated[int, mapped_column(BigInteger())]  # microlitres or milligrams
Code = Annotated[str, mapped_column(String(80))]
Text = Annotated[str, mapped_column(String(2000))]
Document = Annotated[Any, mapped_column(JSON())]


class Base(DeclarativeBase):
    """Base of every table; constraints get their names by one convention."""

    metadata = MetaData(naming_convention=NAMING)


class Versioned:
    """A row with a version that every journal entry about it raises; writes check it (ETag)."""

    version: Mapped[int] = mapped_column(default=1)

    __mapper_args__ = {"version_id_col": version, "version_id_generator": False}  # noqa: RUF012  # SQLAlchemy's own form


class Database:
    """One engine with its two kinds of session."""

    def __init__(
        self, url: str, info: dict[str, Any] | None = None, lock_wait_s: float = LOCK_WAIT_S
    ) -> None:
        """Open `url` (sqlite or postgresql+psycopg); `info` is given to every writing session.

        A statement that waits longer than `lock_wait_s` seconds for another's lock fails; see `is_busy`.
        """
        self.engine = _engine(url, lock_wait_s)
        self.info = info or {}
        self._reading = (
            self.engine.execution_options(reading=True)
            if self.engine.dialect.name == "sqlite"
            else self.engine.execution_options(isolation_level="AUTOCOMMIT")
        )
        self.writer: sessionmaker[Session] = sessionmaker(
            self.engine, expire_on_commit=False, info=info or {}
        )
        self.reader: sessionmaker[Session] = sessionmaker(self._reading, autoflush=False, info=info or {})

    @contextmanager
    def writing(self) -> Iterator[Session]:
        """One transaction: committed when the block ends well, else rolled back whole."""
        with self.writer() as session:
            yield session
            session.commit()

    @contextmanager
    def reading(self) -> Iterator[Session]:
        """A session for reads only; never committed."""
        with self.reader() as session:
            yield session

    def connect(self) -> Connection:
        """A connection for reads only, for who needs no session; whoever asks for it closes it."""
        return self._reading.connect()

    def dispose(self) -> None:
        """Close every pooled connection."""
        self.engine.dispose()


@contextmanager
def snapshot(database: Database) -> Iterator[Session]:
    """A session whose many reads all see the database as it was at the first."""
    engine = database.engine
    sqlite = engine.dialect.name == "sqlite"
    options: dict[str, Any] = {"reading": True} if sqlite else {"isolation_level": "REPEATABLE READ"}
    bound = engine.execution_options(**options)
    with Session(bound, autoflush=False, info=dict(database.info)) as session:
        yield session


def passing(error: DBAPIError) -> str | None:
    """Why the same act can be tried anew at once: nothing of it was done, and nobody need wait for anything.

    PostgreSQL gave it up for another's sake ("serialization", "deadlock"), or the "connection" was cut.
    """
    if error.connection_invalidated:
        return "connection"
    return PASSING_STATES.get(getattr(error.orig, "sqlstate", None) or "")


def is_busy(error: DBAPIError) -> bool:
    """True when nothing is wrong but the moment: the same act may succeed when sent again.

    SQLite's "database is locked"; PostgreSQL's lock time-out, deadlock, serialization failure, and too
    many connections or a server that is just starting or going down (SQLSTATE, appendix A of its manual).
    """
    if error.connection_invalidated:
        return True
    cause = error.orig
    if isinstance(cause, sqlite3.OperationalError):
        return cause.sqlite_errorcode & 0xFF in {sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED}
    if isinstance(cause, psycopg.Error):
        return cause.sqlstate in BUSY_STATES or (
            cause.sqlstate is None and isinstance(error, OperationalError)
        )
    return False


def _engine(url: str, lock_wait_s: float) -> Engine:
    milliseconds = round(lock_wait_s * 1000)
    if url.startswith("sqlite"):
        engine = create_engine(
            url,
            connect_args={"timeout": lock_wait_s, "check_same_thread": False},
            json_deserializer=orjson.loads,
            hide_parameters=True,
        )
        event.listen(engine, "connect", _sqlite_connected)
        event.listen(engine, "begin", lane.begin)
        return engine
    options = f"-c lock_timeout={milliseconds} -c statement_timeout={silence.STATEMENT_S}s -c timezone=UTC"
    engine = create_engine(
        url,
        json_deserializer=orjson.loads,
        hide_parameters=True,  # what people typed in has no place in a log
        connect_args={"prepare_threshold": 1, "options": options},
    )
    event.listen(engine, "do_connect", silence.connect)
    event.listen(engine, "checkin", _came_back)
    event.listen(engine, "checkout", partial(_answers, engine.dialect))
    return engine


def _came_back(_connection: Any, record: ConnectionPoolEntry) -> None:
    record.info["back"] = time.monotonic()


def _answers(dialect: Dialect, connection: Any, record: ConnectionPoolEntry, _proxy: object) -> None:
    # A connection that lay idle may have been cut; to ask one that is in use costs a round trip each time.
    if time.monotonic() - record.info.get("back", time.monotonic()) < IDLE_S:
        return
    try:
        with silence.briefly(connection):
            dialect.do_ping(connection)
    except psycopg.Error as error:
        raise InvalidatePoolError from error


def _sqlite_connected(connection: Any, _record: object) -> None:
    # The driver's own transaction handling would begin too late and lose updates silently.
    connection.isolation_level = None
    for pragma in (
        "journal_mode=WAL",
        "synchronous=FULL",
        "foreign_keys=ON",
        "trusted_schema=OFF",
    ):
        connection.execute(f"PRAGMA {pragma}")
