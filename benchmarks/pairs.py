"""Comparing two ways of doing one job on a noisy machine: interleaved slices, paired ratios, a control."""

import gc
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass

ROUNDS = 13
SLICE_S = 0.05
Job = Callable[[], object]
Clock = Callable[[], float]


@dataclass(frozen=True)
class Ratio:
    """The ratio product / floor over the rounds: quarter, median, three quarters."""

    low: float
    median: float
    high: float


def compare(floor: Job, product: Job, clock: Clock = time.process_time) -> Ratio:
    """Time of `product` in units of `floor`, by paired slices in ABBA order.

    The clock is this process's CPU time; give it `time.perf_counter` where a server does the work.
    """
    pair = [(job, _calls(job, clock)) for job in (floor, product)]
    gc.collect()
    gc.freeze()
    ratios = []
    for n in range(ROUNDS):
        # By place, not by job: the floor against itself is two measurements, or the control could not fail.
        spent = {place: _slice(*pair[place], clock) for place in ((0, 1) if n % 2 else (1, 0))}
        ratios.append(spent[1] / spent[0])
    gc.unfreeze()
    low, median, high = statistics.quantiles(ratios, n=4)
    return Ratio(low, median, high)


def steady(control: Ratio) -> bool:
    """Whether the floor against itself came out as one: otherwise this run proves nothing."""
    return 0.95 <= control.median <= 1.05 and control.low > 0.85 and control.high < 1.15


def _calls(job: Job, clock: Clock) -> int:
    # Six calls fill the caches and bring PostgreSQL to its generic plan; what is slow needs no more.
    if _slice(job, 6, clock) > SLICE_S:
        return 1
    _slice(job, 24, clock)
    return max(1, round(SLICE_S / max(_slice(job, 10, clock), 1e-6)))


def _slice(job: Job, calls: int, clock: Clock) -> float:
    started = clock()
    for _ in range(calls):
        job()
    return (clock() - started) / calls
