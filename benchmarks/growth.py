"""G3, G4: what a page, an act and a lot's room cost as a house grows tenfold, and tenfold again.

Figures for docs/scaling.md. Costs have to depend on what is asked and not on what there is.
"""

import statistics
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from itertools import repeat
from pathlib import Path
from tempfile import TemporaryDirectory

import orjson
from sqlalchemy import select, text

from benchmarks import ledger, reading
from benchmarks.run import CLOCKS, Limit, Run
from benchmarks.wsgi import Request, sending
from service.accounts.actions import create_token
from service.accounts.rules import Role
from service.app import create_app
from service.catalogue.models import Plant, Supplier
from service.core.clock import utc_now
from service.core.db import Database
from service.core.settings import Settings
from service.journal.acts import Act

FLAT_ACT = Limit("G3", 1.3, 1.6)
FLAT_PAGE = Limit("G4", 1.3, 1.6)
SHORT, FULL = (1_000, 10_000), (10_000, 100_000, 1_000_000)
TIMES = 30


@dataclass(frozen=True)
class Cost:
    """Milliseconds of three pages and of counting a lot in (lower quarters), and bytes on disk a lot."""

    page_ms: float
    act_ms: float
    bytes_a_lot: float


def measured(run: Run) -> None:
    """G3 and G4 on both databases."""
    sizes = FULL if run.full else SHORT
    for kind in CLOCKS:
        found = {size: _cost(kind, size) for size in sizes}
        first, last = found[sizes[0]], found[sizes[-1]]
        grown = f"of {sizes[-1]:,} lots against {sizes[0]:,}, {kind}"
        told = {f"{size}": [cost.page_ms, cost.act_ms, cost.bytes_a_lot] for size, cost in found.items()}
        acts = " / ".join(f"{cost.act_ms:.1f}" for cost in found.values())
        pages = " / ".join(f"{cost.page_ms:.1f}" for cost in found.values())
        room = " / ".join(f"{cost.bytes_a_lot:.0f}" for cost in found.values())
        run.figure(FLAT_ACT, f"counting a lot in {grown} ({acts} ms)", last.act_ms / first.act_ms, **told)
        what = f"three pages {grown} ({pages} ms; bytes on disk a lot: {room})"
        run.figure(FLAT_PAGE, what, last.page_ms / first.page_ms)


def _cost(kind: str, lots: int) -> Cost:
    with TemporaryDirectory() as folder, ledger.address(kind, Path(folder)) as url:
        found, database, token = reading.house(Path(folder), url, lots=lots)
        room = _room(database) / lots
        page = _usual(reading.places(found, database, token))
        cost = Cost(page, _usual(_counting_in(found, database)), room)
        database.dispose()
        return cost


def _usual(job: Callable[[], object]) -> float:
    taken = []
    for n in range(TIMES + 6):  # PostgreSQL keeps a plan from the sixth time on
        begun = time.perf_counter()
        job()
        if n >= 6:
            taken.append((time.perf_counter() - begun) * 1000)
    return statistics.quantiles(taken, n=4)[0]  # the quarter that nobody disturbed


def _room(database: Database) -> float:
    if database.engine.dialect.name == "sqlite":
        database.dispose()  # closing the last connection folds the log into the file
        return float(Path(str(database.engine.url.database)).stat().st_size)
    with database.engine.connect() as connection:
        return float(connection.execute(text("SELECT pg_database_size(current_database())")).scalar_one())


def _counting_in(found: Settings, database: Database) -> Callable[[], bytes]:
    now = utc_now()
    with database.writing() as session:
        _, secret = create_token(session, Act("benchmarks", now, now), name="bench", role=Role.GROWER, days=1)
        plant, supplier = (session.scalars(select(table.id)).first() for table in (Plant, Supplier))
    line = {"plant_id": plant, "quantity": 20, "unit_of_sale": "pot"}
    requests: Iterator[Request] = repeat(
        ("/api/v1/shipments", orjson.dumps({"supplier_id": supplier, "lines": [line]}))
    )
    app = create_app(found, database, wake=lambda: None)
    return sending(app, requests, found.public_url, {"Authorization": f"Bearer {secret}"}, status="201")
