"""Which units of a lot are looked at: a random draw that anyone can repeat, and its split over strata."""

import hashlib
import heapq
from collections.abc import Sequence

from service.science.domain import OutOfDomain, within
from service.science.sampling import LARGEST_LOT


def draw_units(lot: str, draw_number: int, secret: str, lot_size: int, sample_size: int) -> tuple[int, ...]:
    """The numbers (1 to lot_size) of the units drawn, ascending: those with the smallest keys.

    The key of unit i is the SHA-256 of lot, draw number, secret and i, each on a line of its own with no line
    end behind the last; no generator of any library is in it, so the draw is the same in ten years. The
    secret keeps a supplier from reckoning which units will be looked at. A larger sample holds the smaller.
    """
    within("lot_size", lot_size, 1, LARGEST_LOT)
    within("sample_size", sample_size, 0, lot_size)
    within("draw_number", draw_number, 1, LARGEST_LOT)
    _one_line("lot", lot)
    _one_line("secret", secret)
    begun = hashlib.sha256(f"{lot}\n{draw_number}\n{secret}\n".encode())

    def key(unit: int) -> bytes:
        whole = begun.copy()
        whole.update(str(unit).encode())
        return whole.digest()

    return tuple(sorted(heapq.nsmallest(sample_size, range(1, lot_size + 1), key=key)))


def proportional_strata(strata_sizes: Sequence[int], sample_size: int) -> tuple[int, ...]:
    """Units to look at in each stratum of a mixed lot: its part of the sample, rounded up.

    The confidence then holds for the lot as a whole, not for any one stratum (Lane, Cannon, Arthur and
    Robinson, "Sample size for inspection intended to manage risk within mixed consignments", NeoBiota 2018).
    """
    for size in strata_sizes:
        within("strata_sizes", size, 1, LARGEST_LOT)
    total = sum(strata_sizes)
    within("sample_size", sample_size, 0, total)
    return tuple(-(-sample_size * size // total) for size in strata_sizes)


def _one_line(parameter: str, text: str) -> None:
    if not text or "\n" in text:
        raise OutOfDomain(parameter, f"{parameter} must be one line of text.")
