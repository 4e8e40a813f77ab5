"""Whether a database keeps what it acknowledged when the power fails; a house starts on no other.

Sources: PostgreSQL manual, "Write Ahead Log" (fsync, synchronous_commit); SQLite manual, PRAGMA synchronous,
journal_mode and foreign_keys.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from sqlalchemy import text

from service.core.db import Database


class UnsafeDatabase(Exception):
    """The database may lose what it acknowledged; the message names each setting and the remedy."""


@dataclass(frozen=True)
class Demand:
    """A setting, how it is asked for, the values that keep a promise, and what is lost with others."""

    ask: str
    safe: frozenset[str]
    loses: str


LOST = "acknowledged acts are lost when the power fails"
DEMANDS: Mapping[str, Mapping[str, Demand]] = {
    "postgresql": {
        "fsync": Demand("SHOW fsync", frozenset({"on"}), LOST),
        "synchronous_commit": Demand(
            "SHOW synchronous_commit", frozenset({"on", "local", "remote_write", "remote_apply"}), LOST
        ),
    },
    "sqlite": {
        "journal_mode": Demand(
            "PRAGMA journal_mode", frozenset({"wal"}), "readers and writers wait for each other"
        ),
        "synchronous": Demand("PRAGMA synchronous", frozenset({"2", "3"}), LOST),
        "foreign_keys": Demand("PRAGMA foreign_keys", frozenset({"1"}), "rows may point at nothing"),
    },
}


def unsafe(kind: str, found: Mapping[str, str]) -> list[str]:
    """A sentence for each setting of a database of this kind that breaks the promise, by what was found."""
    return [
        f"{name} is {found[name]}: {demand.loses}; it must be {' or '.join(sorted(demand.safe))}."
        for name, demand in DEMANDS[kind].items()
        if found[name] not in demand.safe
    ]


def durability(database: Database) -> Mapping[str, str]:
    """The settings that matter, as they are for our own connections."""
    with database.reading() as session:
        return {
            name: str(session.execute(text(demand.ask)).scalar_one()).lower()
            for name, demand in DEMANDS[database.engine.dialect.name].items()
        }


def refuse_unsafe(database: Database) -> None:
    """Raise UnsafeDatabase unless what is acknowledged is kept."""
    found = unsafe(database.engine.dialect.name, durability(database))
    if found:
        raise UnsafeDatabase(" ".join(found))
