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
    """The ratio product / floor over the rounds: quarter, median, three quarters; and what one job took.

    The seconds (medians of the rounds) are told for information, the ratio is what counts.
    """

    low: float
    median: float
    high: float
    floor_s: float = 0.0
    product_s: float = 0.0

    def each(self, parts: int) -> "Ratio":
        """The ratio of one part where the product's job was so many of the floor's."""
        told = (self.low / parts, self.median / parts, self.high / parts)
        return Ratio(*told, self.floor_s, self.product_s / parts)


def compare(
    floor: Job, product: Job, clock: Clock = time.process_time, *, rounds: int = ROUNDS, parts: int = 1
) -> Ratio:
    """Time of `product` in units of `floor`, by paired slices in ABBA order.

    The clock is this process's CPU time; give it `time.perf_counter` where a server does the work. What takes
    seconds is asked in fewer `rounds`. `parts`: so many of the floor's jobs one of the product's is.
    """
    pair = [(job, _calls(job, clock, rounds)) for job in (floor, product)]
    gc.collect()
    gc.freeze()
    taken = []
    for n in range(rounds):
        # By place, not by job: the floor against itself is two measurements, or the control could not fail.
        spent = {place: _slice(*pair[place], clock) for place in ((0, 1) if n % 2 else (1, 0))}
        taken.append((spent[0], spent[1]))
    gc.unfreeze()
    low, median, high = statistics.quantiles([later / former for former, later in taken], n=4)
    floor_s, product_s = (statistics.median(column) for column in zip(*taken, strict=True))
    return Ratio(low, median, high, floor_s, product_s).each(parts)


def steady(control: Ratio) -> bool:
    """Whether the floor against itself came out as one: otherwise this run proves nothing."""
    return 0.95 <= control.median <= 1.05 and control.low > 0.85 and control.high < 1.15


def _calls(job: Job, clock: Clock, rounds: int) -> int:
    # Six calls fill the caches and bring PostgreSQL to its generic plan; what is slow needs no more.
    if _slice(job, 6 if rounds == ROUNDS else 1, clock) > SLICE_S:
        return 1
    _slice(job, 24, clock)
    return max(1, round(SLICE_S / max(_slice(job, 10, clock), 1e-6)))


def _slice(job: Job, calls: int, clock: Clock) -> float:
    started = clock()
    for _ in range(calls):
        job()
    return (clock() - started) / calls
