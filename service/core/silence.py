"""A database that hangs holds the connection and says nothing: none of its own time limits ends the wait.

The network cannot tell it from one that works, since the kernel of a stopped server still takes what is sent.
"""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any, TypeVar

import psycopg
from psycopg.abc import PQGen
from psycopg.pq import TransactionStatus

STATEMENT_S = 30  # what the server itself ends
SILENT_S = 35.0  # so later than that
PING_S = 5.0
CONNECT_S = 5
RV = TypeVar("RV")


class Connection(psycopg.Connection[Any]):
    """A connection that is given up when no answer comes for `SILENT_S` seconds."""

    patience_s: float | None = None

    def wait(self, gen: PQGen[RV], interval: float = 0.1, timeout: float | None = None) -> RV:
        """Wait for an answer, as psycopg does; raises OperationalError and closes when none comes."""
        try:
            return super().wait(gen, interval, timeout or self.patience_s or SILENT_S)
        except psycopg.OperationalError:
            if self.pgconn.transaction_status == TransactionStatus.ACTIVE:
                self.pgconn.finish()  # an answer that comes later would be taken for that to another question
            raise


def connect(_dialect: object, _record: object, arguments: Any, options: Any) -> Connection:
    """Open one for SQLAlchemy's event `do_connect`."""
    return Connection.connect(*arguments, **{"connect_timeout": CONNECT_S, **options})


@contextmanager
def briefly(connection: Connection) -> Iterator[None]:
    """Wait no longer than for an answer that costs nothing."""
    connection.patience_s = PING_S
    try:
        yield
    finally:
        connection.patience_s = None
