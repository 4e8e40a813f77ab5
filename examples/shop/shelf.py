"""What the shop knows, in one file: its shelf, what was recalled, its orders, and how far it has read."""

import json
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

TABLES = """
CREATE TABLE IF NOT EXISTS place (what TEXT PRIMARY KEY, after TEXT NOT NULL, read_at REAL);
CREATE TABLE IF NOT EXISTS shelf (
    plant_id TEXT, unit_of_sale TEXT, sku TEXT, name TEXT NOT NULL, available INTEGER NOT NULL,
    PRIMARY KEY (plant_id, unit_of_sale)
);
CREATE TABLE IF NOT EXISTS recalled (lot_id TEXT PRIMARY KEY, lot_code TEXT NOT NULL, told_at TEXT NOT NULL);
CREATE TABLE IF NOT EXISTS orders (
    ref TEXT PRIMARY KEY, sku TEXT NOT NULL, quantity INTEGER NOT NULL,
    state TEXT NOT NULL DEFAULT 'asked' CHECK (state IN ('asked', 'promised', 'sent', 'refused')),
    reservation_id TEXT, lines TEXT NOT NULL DEFAULT '[]', why TEXT
);
"""


class Shelf:
    """One SQLite file; every change is one transaction, so that a killed shop goes on where it was."""

    def __init__(self, file: Path) -> None:
        """Open or make the file."""
        self._file = file
        with self._open() as made:
            made.execute("PRAGMA journal_mode=WAL")
            made.executescript(TABLES)

    @contextmanager
    def _open(self) -> Iterator[sqlite3.Connection]:
        opened = sqlite3.connect(self._file, timeout=30)
        opened.row_factory = sqlite3.Row
        try:
            with opened:
                yield opened
        finally:
            opened.close()

    def place(self, what: str) -> str | None:
        """How far the events or the inventory were read."""
        with self._open() as read:
            row = read.execute("SELECT after FROM place WHERE what = ?", [what]).fetchone()
        return None if row is None else str(row["after"])

    def take_events(self, events: list[dict[str, Any]], after: str, now: float) -> None:
        """Keep what events say, with the place they end at; one that comes twice changes nothing."""
        with self._open() as write:
            for event in events:
                if event["type"] == "lot.recalled":
                    data = event["data"]
                    row = (data["lot_id"], data["lot_code"], event["recordedtime"])
                    write.execute("INSERT OR IGNORE INTO recalled VALUES (?, ?, ?)", row)
            write.execute("INSERT OR REPLACE INTO place VALUES ('events', ?, ?)", [after, now])

    def take_rows(self, rows: list[dict[str, Any]], after: str, now: float, *, whole: bool) -> None:
        """Put rows of the inventory in the place of those of their plant and unit."""
        with self._open() as write:
            if whole:
                write.execute("DELETE FROM shelf")
            for row in rows:
                said = [
                    row[name] for name in ("plant_id", "unit_of_sale", "sku", "scientific_name", "available")
                ]
                write.execute("INSERT OR REPLACE INTO shelf VALUES (?, ?, ?, ?, ?)", said)
            write.execute("INSERT OR REPLACE INTO place VALUES ('inventory', ?, ?)", [after, now])

    def shown(self) -> dict[str, Any]:
        """The shelf, when it was last read, what was recalled, and orders whose buyers must be told."""
        with self._open() as read:
            rows = [dict(row) for row in read.execute("SELECT * FROM shelf ORDER BY name, unit_of_sale")]
            recalled = [dict(row) for row in read.execute("SELECT * FROM recalled ORDER BY lot_code")]
            seen = read.execute("SELECT read_at FROM place WHERE what = 'inventory'").fetchone()
            sent = read.execute("SELECT ref, lines FROM orders WHERE state = 'sent'").fetchall()
        gone = {row["lot_id"] for row in recalled}
        to_tell = [
            row["ref"] for row in sent if any(line["lot_id"] in gone for line in json.loads(row["lines"]))
        ]
        return {"rows": rows, "read_at": seen and seen["read_at"], "recalled": recalled, "to_tell": to_tell}

    def ask(self, ref: str, sku: str, quantity: int) -> dict[str, Any]:
        """Write an order down before anything is sent; the same reference is the same order."""
        with self._open() as write:
            said = (ref, sku, quantity)
            write.execute("INSERT OR IGNORE INTO orders (ref, sku, quantity) VALUES (?, ?, ?)", said)
        return self.order(ref)

    def order(self, ref: str) -> dict[str, Any]:
        """One order; raises KeyError."""
        with self._open() as read:
            row = read.execute("SELECT * FROM orders WHERE ref = ?", [ref]).fetchone()
        if row is None:
            raise KeyError(ref)
        return {**dict(row), "lines": json.loads(row["lines"])}

    def owed(self) -> list[str]:
        """Orders that are neither sent nor refused."""
        with self._open() as read:
            rows = read.execute("SELECT ref FROM orders WHERE state IN ('asked', 'promised') ORDER BY rowid")
            return [row["ref"] for row in rows]

    def settle(
        self,
        ref: str,
        state: str,
        *,
        reservation_id: str | None = None,
        lines: Any = None,
        why: str | None = None,
    ) -> None:
        """Say what became of an order; what is not said stays."""
        kept = (state, reservation_id, None if lines is None else json.dumps(lines), why, ref)
        with self._open() as write:
            write.execute(
                "UPDATE orders SET state = ?, reservation_id = coalesce(?, reservation_id),"
                " lines = coalesce(?, lines), why = coalesce(?, why) WHERE ref = ?",
                kept,
            )
