"""Comparing two ways of doing one job on a noisy machine: interleaved slices, paired ratios, a control."""

import gc
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass

ROUNDS = 13
SLICE_S = 0.05
Job = Callable[[], object]


@dataclass(frozen=True)
class Ratio:
    """The ratio product / floor over the rounds: quarter, median, three quarters."""

    low: float
    median: float
    high: float


def compare(floor: Job, product: Job) -> Ratio:
    """CPU time of `product` in units of `floor`, by paired slices in ABBA order."""
    calls = {job: _calls(job) for job in (floor, product)}
    gc.collect()
    gc.freeze()
    ratios = []
    for n in range(ROUNDS):
        order = (floor, product) if n % 2 else (product, floor)
        spent = {job: _slice(job, calls[job]) for job in order}
        ratios.append(spent[product] / spent[floor])
    gc.unfreeze()
    low, median, high = statistics.quantiles(ratios, n=4)
    return Ratio(low, median, high)


def steady(control: Ratio) -> bool:
    """Whether the floor against itself came out as one: otherwise this run proves nothing."""
    return 0.95 <= control.median <= 1.05 and control.low > 0.85 and control.high < 1.15


def _calls(job: Job) -> int:
    for _ in range(30):
        job()
    started = time.process_time()
    for _ in range(10):
        job()
    return max(1, round(SLICE_S / max((time.process_time() - started) / 10, 1e-6)))


def _slice(job: Job, calls: int) -> float:
    started = time.process_time()
    for _ in range(calls):
        job()
    return (time.process_time() - started) / calls
