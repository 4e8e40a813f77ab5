"""Quarantine in tests: the worker's jobs done at once, and lots that shared water."""

from collections.abc import Mapping
from typing import Any

from service.core.clock import utc_now
from service.core.db import Database
from service.core.jobs import claim, perform
from service.wiring import JOBS
from tests.journeys.bench import Bench

ADULT = {"pest": "bladder_snail", "stage": "adult", "live": 1, "dead": 0, "removed": True}


def work_done(database: Database) -> int:
    """Do every owed job; gives how many there were."""
    done = 0
    while True:
        now = utc_now()
        with database.writing() as session:
            claimed = claim(session, now, 20)
        for leased in claimed:
            assert perform(database, leased, JOBS, now)
            done += 1
        if not claimed:
            return done


def quarantined(
    bench: Bench,
    tub: str,
    *,
    day: float = 0,
    quantity: int = 20,
    told: Mapping[str, Any] | None = None,
    **more: Any,
) -> str:
    """A lot of pots put through quarantine-only in a tub on that day.

    `told` is said of it at receipt; `more` is of the treatment.
    """
    lot = str(bench.lot("anubias-barteri", quantity, day=day, **(told or {}))["id"])
    bench.treat("quarantine-only", tub, [lot], day + 0.1, [1], **more)
    return lot


def moved(bench: Bench, lot: str, tub: str, day: float, **more: Any) -> Any:
    """A lot moved to another tub on that day."""
    return bench.api.grower.made(f"/lots/{lot}/moves", {**bench.when(day), "tub_id": tub, **more})


def listed(bench: Bench, lot: str) -> Any:
    """A lot as the list shows it, with its release day."""
    items = bench.api.grower.seen("/lots?limit=200")["items"]
    return next(item for item in items if item["id"] == lot)


def coming(bench: Bench, tub: str, day: float, quantity: int = 20) -> str:
    """A lot in quarantine since that day that was looked at, so that its day of release is known."""
    lot = quarantined(bench, tub, day=day, quantity=quantity)
    for after in (1, 4):
        bench.look(day + after, lot_id=lot, sample_size=quantity)
        bench.look(day + after, tub_id=tub, method="strain")
        bench.look(day + after, tub_id=tub, method="bait")
    return lot
