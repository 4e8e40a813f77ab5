"""L1: the consumption report over years of ledger lines, against bare SQL and the un-indexed aggregate."""

from collections.abc import Callable
from decimal import Decimal
from typing import Any

from benchmarks.ledger import Driver, Row
from benchmarks.pairs import Clock
from service.core.db import Database
from service.reports.consumption import consumption
from service.reports.rules import By
from service.reports.spans import Span

# Rows of an answer: material, used, active mass in mg: of use, poured away, left; cost in millionths.
FLOOR = """
WITH added AS (
  SELECT material_id, reason, CAST(SUM(used) AS BIGINT) used, COUNT(*) lines,
         CAST(SUM(active_mg) AS BIGINT) active, COUNT(active_mg) actives,
         CAST(SUM(discharged_mg) AS BIGINT) away, COUNT(discharged_mg) aways,
         CAST(SUM(left_mg) AS BIGINT) rest, COUNT(left_mg) rests,
         CAST(SUM(cost_micro) AS BIGINT) cost, COUNT(cost_micro) costs,
         MIN(currency) first, MAX(currency) last
  FROM consumption_day GROUP BY material_id, reason
)
SELECT m.code, a.reason, a.used, a.lines, a.active, a.actives, a.away, a.aways, a.rest, a.rests,
       a.cost, a.costs, a.first, a.last
FROM added a JOIN material m ON m.id = a.material_id ORDER BY m.code
"""
# What is joined to an empty text can use no index, as the table would be read without them.
AGGREGATE = """
SELECT m.code,
       SUM(CASE WHEN e.reason IN ('neutralise', 'redose', 'treatment') THEN -e.amount ELSE 0 END),
       SUM(CASE WHEN e.reason IN ('neutralise', 'redose', 'treatment') THEN -e.active_mg ELSE 0 END),
       SUM(CASE WHEN e.reason <> 'disposal' OR e.way IN ('sewer', 'spilled') THEN -e.active_mg ELSE 0 END),
       SUM(CASE WHEN e.reason <> 'disposal' OR e.way IN ('sewer', 'spilled') THEN -e.active_mg ELSE 0 END)
FROM stock_entry e JOIN stock_batch b ON b.id = e.batch_id JOIN material m ON m.id = b.material_id
WHERE e.reason || '' IN ('disposal', 'neutralise', 'redose', 'spill', 'treatment')
  AND e.id NOT IN (SELECT reverses_id FROM stock_entry WHERE reverses_id IS NOT NULL)
GROUP BY m.code ORDER BY m.code
"""


def product(database: Database) -> Callable[[], list[Row]]:
    """The service's function, all materials over all years, without HTTP."""

    def call() -> list[Row]:
        with database.reading() as session:
            rows = consumption(session, Span(), By.MATERIAL)
        return [_plain(row) for row in rows]

    return call


def _plain(row: dict[str, Any]) -> Row:
    names = ("used", "active_mass", "active_mass_discharged", "active_mass_after_neutralising")
    masses = (int(row[name].amount.value) for name in names)
    return row["material"], *masses, row["cost"]["value"]


def floor(driver: Driver) -> Callable[[], list[Row]]:
    """The same sums on the driver, put together by hand: disposals only count as poured away."""

    def call() -> list[Row]:
        found: dict[str, list[Any]] = {}
        for code, reason, *sums, first, last in driver(FLOOR):
            used, active, away, left, cost = (_known(sums, place) for place in range(0, 10, 2))
            row = found.setdefault(code, [code, 0, 0, 0, 0, 0])
            row[3], row[4] = _plus(row[3], away), _plus(row[4], left)
            if reason != "disposal":
                row[1], row[2] = row[1] + used, _plus(row[2], active)
                row[5] = _plus(row[5], cost if first == last else None)
        return [tuple(row) for row in found.values()]

    return call


def _known(sums: list[Any], place: int) -> int | None:
    total: int = sums[place]
    return total if sums[place + 1] == sums[1] else None


def _plus(one: int | None, other: int | None) -> int | None:
    return None if one is None or other is None else one + other


def aggregate(driver: Driver) -> Callable[[], list[Row]]:
    """The ledger itself added up, without an index and without the cost of each line."""
    return lambda: driver(AGGREGATE)


def same(report: list[Row], rolled: list[Row], added: list[Row]) -> bool:
    """Whether all three give the same answer; the aggregate tells no cost, which is rounded line by line."""
    told = [(*row[:-1], round(Decimal(row[-1]), 4)) for row in report]
    bare_rows = [(*row[:-1], round(Decimal(row[-1]) / 10**6, 4)) for row in rolled]
    return told == bare_rows and [row[:-1] for row in report] == added and bool(report)


def seconds(job: Callable[[], object], clock: Clock, rounds: int = 3) -> float:
    """The least time of a few runs of a job too slow for slices."""
    spent = []
    for _ in range(rounds):
        started = clock()
        job()
        spent.append(clock() - started)
    return min(spent)
