"""A house with years of stays: lots that stood in one tub after the other; and its bare driver."""

import random
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from sqlalchemy import insert, select

from benchmarks.ledger import address
from benchmarks.pages import on_driver
from benchmarks.reading import house as house_of_lots
from service.core.clock import utc_now
from service.core.db import Database
from service.core.ids import new_id
from service.lots.models import Lot, Stay
from service.tubs.models import Tub

STAYS_OF_A_LOT, LONGEST_D = 4, 14
STAYS_A_DAY = 2 / 11  # of one tub: a million stays in 1,500 tubs are ten years
START = datetime(2016, 1, 1, tzinfo=UTC)
AT_ONCE = 5000


@dataclass(frozen=True)
class House:
    """A house with so many stays, by the service and by the driver."""

    database: Database
    driver: Any
    stays: int


@contextmanager
def house(kind: str, stays: int, tubs: int) -> Iterator[House]:
    """A house whose lots stood in random tubs, four stays each: the more stays, the longer its history."""
    with TemporaryDirectory() as folder, address(kind, Path(folder)) as url:
        _, database, _ = house_of_lots(Path(folder), url, lots=stays // STAYS_OF_A_LOT)
        now = utc_now()
        with database.writing() as session:
            session.execute(
                insert(Tub),
                [{"code": f"T{n}", "volume_l": 40, "active": True, "created_at": now} for n in range(tubs)],
            )
            lots = list(session.scalars(select(Lot.id).order_by(Lot.id)))
            places = list(session.scalars(select(Tub.id).order_by(Tub.code)))
            rows = list(_rows(lots, places, round(stays / tubs / STAYS_A_DAY)))
            for n in range(0, len(rows), AT_ONCE):
                session.execute(insert(Stay), rows[n : n + AT_ONCE])
        with database.engine.connect() as connection:
            connection.exec_driver_sql("ANALYZE")
            connection.commit()
        driver = on_driver(database)
        yield House(database, driver, stays)
        driver.close()
        database.dispose()


def _rows(lots: list[str], tubs: list[str], days: int) -> Iterator[dict[str, Any]]:
    chance = random.Random(20260302)  # noqa: S311  # the same stays in every run
    for lot in lots:
        at = START + timedelta(hours=chance.randrange(24 * days))
        for _ in range(STAYS_OF_A_LOT):
            until = at + timedelta(hours=chance.randrange(24, 24 * LONGEST_D))
            yield {
                "id": new_id(),
                "lot_id": lot,
                "tub_id": chance.choice(tubs),
                "entered_at": at,
                "left_at": until,
                "shared": False,
            }
            at = until
