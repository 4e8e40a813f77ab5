"""One engine for each address in a whole run: a new one for every test would compile every statement anew."""

from typing import Any

from sqlalchemy import Engine, event

from service.core import db

_make = db._engine


class Engines:
    """Engines by address and patience; stands in for the maker of `service.core.db`."""

    def __init__(self) -> None:
        self._made: dict[tuple[str, float], Engine] = {}

    def __call__(self, url: str, lock_wait_s: float) -> Engine:
        key = (url, lock_wait_s)
        if key not in self._made:
            self._made[key] = new_engine(url, lock_wait_s)
        return self._made[key]

    def dispose(self) -> None:
        """Close every connection nobody uses: the next test finds other contents at the same address."""
        for engine in self._made.values():
            engine.dispose()


def new_engine(url: str, lock_wait_s: float) -> Engine:
    """The product's engine; on SQLite it does not wait for the disk."""
    engine = _make(url, lock_wait_s)
    if engine.dialect.name == "sqlite":
        event.listen(engine, "connect", _without_waiting_for_the_disk)
    return engine


def _without_waiting_for_the_disk(connection: Any, _record: object) -> None:
    # As for PostgreSQL: speed for safety, in a folder that is thrown away.
    connection.execute("PRAGMA synchronous=OFF")


ENGINES = Engines()
