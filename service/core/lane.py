"""The one lane of writers on SQLite: who waits asks often, so that who has just come does not overtake him.

SQLite itself waits in sleeps that grow to 100 ms: with eight writers one of them waited two seconds.
"""

import sqlite3
import time
from typing import Any

from sqlalchemy import Connection

ASKED_EVERY_S = 0.001


def begin(connection: Connection) -> None:
    """Begin a transaction on SQLite: a reader's takes no lock, a writer's at once the only one there is.

    Raises sqlalchemy.exc.OperationalError when the lock was not free within the time of the connection.
    """
    cursor = connection.connection.cursor()  # past SQLAlchemy, which would spend more on it than SQLite
    if connection.get_execution_options().get("reading", False):
        cursor.execute("BEGIN")
        return
    [(patience_ms,)] = cursor.execute("PRAGMA busy_timeout").fetchall()
    until = time.monotonic() + patience_ms / 1000
    cursor.execute("PRAGMA busy_timeout=0")
    try:
        while not (begun := _begun(cursor)) and time.monotonic() < until:
            time.sleep(ASKED_EVERY_S)
        if not begun:
            connection.exec_driver_sql("BEGIN IMMEDIATE")  # once more, for its error
    finally:
        cursor.execute(f"PRAGMA busy_timeout={patience_ms}")


def _begun(cursor: Any) -> bool:
    try:
        cursor.execute("BEGIN IMMEDIATE")
    except sqlite3.OperationalError as error:
        if error.sqlite_errorcode & 0xFF != sqlite3.SQLITE_BUSY:
            raise
        return False
    return True
