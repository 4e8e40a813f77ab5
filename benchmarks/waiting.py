"""A house in which lots wait in quarantine, with their looks and the temperatures of their tubs."""

import random
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from sqlalchemy import insert, select, update
from sqlalchemy.orm import Session

from benchmarks.ledger import address
from benchmarks.pages import on_driver
from benchmarks.reading import house as house_of_lots
from service.core.clock import utc_now
from service.core.db import Database
from service.core.ids import new_id
from service.inspections.models import InspectedWater, Inspection
from service.lots.models import Lot, Stay
from service.tubs.models import TemperatureReading, Tub

LOTS_OF_A_TUB, DAYS = 5, 14
# Lots come in three waves, a day and more before the look that their clock starts with.
WAVES, LOOKS = (0.2, 3.7, 7.2), (1.5, 5.0, 8.5, 12.0)


@dataclass(frozen=True)
class House:
    """A house where so many lots wait, as it is at `now`; and its bare driver."""

    database: Database
    driver: Any
    now: datetime


@contextmanager
def house(kind: str, lots: int) -> Iterator[House]:
    """Lots that came within two weeks: clean looks for adults, one reading a day, no treatment."""
    with TemporaryDirectory() as folder, address(kind, Path(folder)) as url:
        _, database, _ = house_of_lots(Path(folder), url, lots=lots)
        now = utc_now()
        with database.writing() as session:
            ids = list(session.scalars(select(Lot.id).order_by(Lot.id)))
            _waiting(session, ids, now)
        driver = on_driver(database)
        yield House(database, driver, now)
        driver.close()
        database.dispose()


def _waiting(session: Session, lots: list[str], now: datetime) -> None:
    chance, start = random.Random(20260302), now - timedelta(days=DAYS)  # noqa: S311  # the same in every run
    for n in range(0, len(lots), LOTS_OF_A_TUB):
        tub = Tub(id=new_id(), code=f"T{n}", volume_l=40, created_at=start)
        session.add(tub)
        session.flush()
        for m, lot in enumerate(lots[n : n + LOTS_OF_A_TUB]):
            came = start + timedelta(days=WAVES[m % len(WAVES)] + chance.random() / 10)
            session.execute(
                update(Lot)
                .where(Lot.id == lot)
                .values(state="in_quarantine", received_at=came, state_since=came, tub_id=tub.id)
            )
            session.add(Stay(lot_id=lot, tub_id=tub.id, entered_at=came))
        _looked(session, tub.id, start)
        _measured(session, tub.id, start, chance)


def _looked(session: Session, tub: str, start: datetime) -> None:
    for day in LOOKS:
        at = start + timedelta(days=day)
        look = Inspection(
            id=new_id(),
            tub_id=tub,
            at=at,
            method="strain",
            sample_size=0,
            clean=True,
            inspector="bench",
            recorded_at=at,
            by="bench",
        )
        session.add(look)
        session.flush()
        session.add(InspectedWater(inspection_id=look.id, tub_id=tub, whole=True))


def _measured(session: Session, tub: str, start: datetime, chance: random.Random) -> None:
    rows = [
        {
            "id": new_id(),
            "tub_id": tub,
            "at": start + timedelta(days=day, hours=1),
            "celsius": round(chance.uniform(20, 25), 2),
            "entered": {},
            "recorded_at": start,
            "by": "bench",
        }
        for day in range(DAYS)
    ]
    session.execute(insert(TemperatureReading), rows)
