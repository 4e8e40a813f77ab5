"""Reading how warm batches stood: the shelves they were on, and the logs of these."""

from bisect import bisect_left
from collections import defaultdict
from collections.abc import Iterable, Sequence
from datetime import date, datetime
from operator import itemgetter

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.core.clock import local_day
from service.stores.models import Material, ShelfReading, ShelfStay, StockBatch
from service.stores.rules_shelf import ShelfLog

Stays = dict[str, list[tuple[datetime, str | None]]]  # per batch: since when, on which shelf (None: on none)
Readings = dict[str, list[tuple[datetime, float]]]


def stays_of(session: Session, batch_ids: Iterable[str]) -> Stays:
    """On which shelf batches stood since when, in order; those that never stood on one are left out."""
    statement = select(ShelfStay.batch_id, ShelfStay.since, ShelfStay.shelf_id)
    rows = session.execute(
        statement.where(ShelfStay.batch_id.in_(list(batch_ids))).order_by(ShelfStay.since, ShelfStay.id)
    )
    found: Stays = defaultdict(list)
    for batch_id, since, shelf_id in rows:
        found[batch_id].append((since, shelf_id))
    return found


def shelf_logs(
    session: Session, pairs: Sequence[tuple[StockBatch, Material]], zone: str
) -> dict[str, ShelfLog]:
    """Per batch what was read on each local day where it stood; only of what ages and stood on a shelf."""
    ageing = [batch.id for batch, material in pairs if material.figures.get("ageing") and batch.id]
    stays = stays_of(session, ageing) if ageing else {}
    return _by_day(stays, _readings(session, stays), zone) if stays else {}


def _readings(session: Session, stays: Stays) -> Readings:
    shelves = {shelf for path in stays.values() for _, shelf in path if shelf is not None}
    statement = select(ShelfReading.shelf_id, ShelfReading.at, ShelfReading.celsius).where(
        ShelfReading.shelf_id.in_(shelves),
        ShelfReading.voided_at.is_(None),
        ShelfReading.at >= min(path[0][0] for path in stays.values()),
    )
    found: Readings = defaultdict(list)
    for shelf_id, at, celsius in session.execute(statement.order_by(ShelfReading.at)):
        found[shelf_id].append((at, celsius))
    return found


def _by_day(stays: Stays, readings: Readings, zone: str) -> dict[str, ShelfLog]:
    found: dict[str, ShelfLog] = {}
    for batch_id, path in stays.items():
        log: dict[date, list[float]] = defaultdict(list)
        ends = [since for since, _ in path[1:]]
        for n, (since, shelf) in enumerate(path):
            read = readings.get(shelf or "", [])
            first = bisect_left(read, since, key=itemgetter(0))
            last = bisect_left(read, ends[n], key=itemgetter(0)) if n < len(ends) else len(read)
            for at, celsius in read[first:last]:
                log[local_day(at, zone)].append(celsius)
        found[batch_id] = log
    return found
