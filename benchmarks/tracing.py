"""T1 to T3: what a lot could have reached among a hundred thousand or a million stays, and at what cost.

The floor is a heap over the driver: the earliest lot is settled first, its stays and those that overlap them
are asked for by index, with the longest stay as the bound of how far back to look. It knows nothing of
splits, bags, tools, baths or water systems, which the service asks for as well; here there are none, so both
must give every lot the same moment. The floor keeps the step that explains each lot too.
"""

import heapq
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from typing import Any

from benchmarks import stays
from benchmarks.pairs import Ratio
from benchmarks.run import CLOCKS, Limit, Run
from benchmarks.stays import House
from service.recalls.reach import reach

TRACE = {"sqlite": Limit("T1", 1.5, 2.0), "postgresql": Limit("T3", 1.5, 2.5)}
FLAT = Limit("T2", 1.6, 2.0)
SHORT, FULL = (10_000, 50_000), (100_000, 1_000_000)
TUBS, FULL_TUBS = 150, 1500
WANTED, FULL_WANTED = (20, 100), (100, 5000)  # lots reached
ROUNDS = 5
Found = dict[str, datetime]
STAYS = "SELECT tub_id, entered_at, left_at FROM stay WHERE lot_id = ? AND left_at > ?"
OTHERS = (
    "SELECT lot_id, entered_at, left_at FROM stay"
    " WHERE tub_id = ? AND entered_at > ? AND entered_at < ? AND left_at > ?"
)
LOOK_BACK = timedelta(days=stays.LONGEST_D)


def measured(run: Run) -> None:
    """T1 and T3: both sizes of answer on each database; T2: the cost of a reached lot at both sizes."""
    sizes = FULL if run.full else SHORT
    for kind in CLOCKS:
        each = {size: _traced(run, kind, size) for size in (sizes if kind == "sqlite" else sizes[-1:])}
        if kind == "sqlite":
            small, large = (min(each[size]) for size in sizes)
            what = f"cost of a reached lot, service, {sizes[1]:,} stays against {sizes[0]:,}, SQLite"
            ratio = large / small
            run.told(FLAT, what, Ratio(ratio, ratio, ratio, small, large))


def _traced(run: Run, kind: str, size: int) -> list[float]:
    """Measure the traces of a house; gives the seconds that the service takes for a reached lot."""
    with stays.house(kind, size, FULL_TUBS if run.full else TUBS) as house:
        spent = []
        for wanted in FULL_WANTED if run.full else WANTED:
            start = _start(house, wanted)
            product, floor = _product(house, start), _floor(house, start)
            reached = floor()
            what = (
                f"trace of {len(reached):,} lots among {size:,} stays, {kind}, against a heap on the driver"
            )
            run.ratio(
                TRACE[kind],
                what,
                floor,
                product,
                CLOCKS[kind],
                same=lambda: product() == reached,  # noqa: B023  # asked at once
                rounds=ROUNDS,
            )
            spent.append(_seconds(product) / len(reached))
        return spent


def _start(house: House, wanted: int) -> Found:
    """A lot and a moment from which about so many lots are reached: the later, the fewer."""
    rows = house.driver.execute("SELECT lot_id, entered_at FROM stay ORDER BY entered_at DESC").fetchall()
    step = max(1, len(rows) // 2000)
    for lot, at in rows[::step]:
        start = {str(lot): _moment(at)}
        if len(_floor(house, start)()) >= wanted:
            return start
    raise RuntimeError(f"nothing reaches {wanted} lots")


def _product(house: House, start: Found) -> Callable[[], Found]:
    def call() -> Found:
        with house.database.reading() as session:
            return {lot: found.at for lot, found in reach(session, start).items()}

    return call


def _floor(house: House, start: Found) -> Callable[[], Found]:
    sqlite = house.database.engine.dialect.name == "sqlite"
    own, others = (text if sqlite else text.replace("?", "%s") for text in (STAYS, OTHERS))
    ask = house.driver.execute
    read, write = (_moment, _text) if sqlite else (_same, _same)

    def call() -> Found:
        best: dict[Any, datetime] = dict(start)
        step: dict[Any, Any] = {}
        waiting = [(at, lot) for lot, at in start.items()]
        settled = set()
        while waiting:
            at, lot = heapq.heappop(waiting)
            if lot in settled:
                continue
            settled.add(lot)
            for tub, entered, left in ask(own, (lot, write(at))).fetchall():
                since = max(at, read(entered))
                bound = write(since - LOOK_BACK)
                for other, came, _ in ask(others, (tub, bound, left, write(since))).fetchall():
                    arrival, name = max(since, read(came)), str(other)
                    if name not in best or arrival < best[name]:
                        best[name], step[name] = arrival, (lot, tub, since)
                        heapq.heappush(waiting, (arrival, name))
        return best

    return call


def _seconds(job: Callable[[], object]) -> float:
    started = time.process_time()
    job()
    return time.process_time() - started


def _moment(text: Any) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC) if isinstance(text, str) else text


def _text(moment: datetime) -> str:
    return moment.strftime("%Y-%m-%d %H:%M:%S.%f")


def _same(moment: Any) -> Any:
    return moment
