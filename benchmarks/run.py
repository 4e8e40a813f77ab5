"""One run of the benchmarks: each figure is judged as it comes, shown in one table, and kept as JSON."""

import time
from collections.abc import Callable
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

import orjson
from rich.console import Console
from rich.table import Table

from benchmarks.machine import load, machine
from benchmarks.pairs import ROUNDS, Clock, Job, Ratio, compare, steady

ATTEMPTS = 3
# PostgreSQL does its work in a process of its own: only the clock on the wall sees it.
CLOCKS: dict[str, Clock] = {"sqlite": time.process_time, "postgresql": time.perf_counter}
BAD = {"met": 0, "above goal": 0, "FAIL": 1, "DIFFERENT": 1, "INCONCLUSIVE": 2, "no such path": 0}


@dataclass(frozen=True)
class Limit:
    """An id with its goal and what no run may be above (`least`: below), as performance.md numbers them."""

    id: str
    goal: float
    fail: float
    least: bool = False  # more is better
    unit: str = ""  # of an absolute figure; a ratio has none

    def verdict(self, best: float, usual: float) -> str:
        """Whether the usual figure meets the goal; it fails when even the better quarter misses the limit."""
        if self.least:
            return "met" if usual >= self.goal else "FAIL" if best < self.fail else "above goal"
        return "met" if usual <= self.goal else "FAIL" if best > self.fail else "above goal"


@dataclass(frozen=True)
class Outcome:
    """One line of the table."""

    id: str
    what: str
    verdict: str
    measured: str
    goal: str
    fail: str
    floor_us: float | None = None
    product_us: float | None = None
    figures: dict[str, Any] = field(default_factory=dict)


class Run:
    """What is measured, in full or short, with what came of it so far."""

    def __init__(self, out: Console, *, full: bool) -> None:
        self.out = out
        self.full = full
        self.outcomes: list[Outcome] = []
        self._begun = load()

    def ratio(
        self,
        limit: Limit,
        what: str,
        floor: Job,
        product: Job,
        clock: Clock,
        *,
        same: Callable[[], bool],
        rounds: int = ROUNDS,
        parts: int = 1,
        **figures: Any,
    ) -> None:
        """Measure `product` in units of `floor` once both are shown to do the same job."""
        if not same():
            self._add(limit, what, "DIFFERENT", "floor and product do not do the same: nothing was measured")
            return
        sure = any(steady(compare(floor, floor, clock, rounds=rounds)) for _ in range(ATTEMPTS))
        found = compare(floor, product, clock, rounds=rounds, parts=parts)
        self.told(limit, what, found, sure=sure, **figures)

    def told(self, limit: Limit, what: str, found: Ratio, *, sure: bool = True, **figures: Any) -> None:
        """Judge a ratio that was measured; it proves nothing when the floor against itself was not steady."""
        best = found.high if limit.least else found.low
        shown = f"{found.median:.3g} ({found.low:.3g} to {found.high:.3g})"
        times = {"floor_us": found.floor_s * 1e6, "product_us": found.product_s * 1e6}
        verdict = limit.verdict(best, found.median) if sure else "INCONCLUSIVE"
        self._add(limit, what, verdict, shown, figures=asdict(found) | figures, **times)

    def figure(self, limit: Limit, what: str, value: float, **figures: Any) -> None:
        """Judge one absolute figure."""
        shown = f"{value:.3g} {limit.unit}".strip()
        self._add(limit, what, limit.verdict(value, value), shown, figures={"value": value} | figures)

    def missing(self, limit: Limit, what: str) -> None:
        """Say that the product has no such path."""
        self._add(limit, what, "no such path", "-")

    def shown(self) -> int:
        """Print the table; gives 1 when a figure misses its limit, 2 when the machine was too noisy."""
        columns = ("id", "what", "floor", "product", "measured", "goal", "fail beyond", "verdict")
        table = Table(*columns)
        for found in self.outcomes:
            times = (_time(found.floor_us), _time(found.product_us))
            table.add_row(found.id, found.what, *times, found.measured, found.goal, found.fail, found.verdict)
        self.out.print(table)
        return max((BAD[found.verdict] for found in self.outcomes), default=0)

    def kept(self, file: Path) -> None:
        """Keep everything with the machine it was measured on and its load before and after."""
        told = {
            "machine": machine(),
            "load": {"begun": self._begun, "ended": load()},
            "full": self.full,
            "outcomes": [asdict(found) for found in self.outcomes],
        }
        file.parent.mkdir(parents=True, exist_ok=True)
        file.write_bytes(orjson.dumps(told, option=orjson.OPT_INDENT_2))

    def _add(self, limit: Limit, what: str, verdict: str, measured: str, **more: Any) -> None:
        sign = ">=" if limit.least else "<="
        goal, fail = (f"{value:g} {limit.unit}".strip() for value in (limit.goal, limit.fail))
        self.out.print(f"{limit.id}: {what}: {measured}: {verdict}")
        self.outcomes.append(Outcome(limit.id, what, verdict, measured, f"{sign} {goal}", fail, **more))


def _time(us: float | None) -> str:
    if us is None:
        return ""
    return f"{us / 1000:.3g} ms" if us >= 1000 else f"{us:.3g} us"
