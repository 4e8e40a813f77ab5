"""How many tubs will be needed against those that are free, week by week (decision 19).

Assumed: a quarantine tub is free again on the day its last lot may be sold; what is cleared already stands
where it is until it is sold, and nobody knows when; what comes in waits `STAY`.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta

STAY = timedelta(weeks=5)  # four to five weeks of quarantine are usual: common practice, no source
WEEK = timedelta(weeks=1)


@dataclass(frozen=True)
class Taken:
    """A tub with lots in it, until a day (None: nobody knows)."""

    until: date | None


@dataclass(frozen=True)
class Coming:
    """So many tubs are needed from a day on: for a shipment, or for lots that stand in none."""

    on: date
    tubs: int


@dataclass(frozen=True)
class TubWeek:
    """One week: tubs `taken` by what stands in them, `free`, and `needed` for what comes."""

    since: date
    until: date
    tubs: int
    taken: int
    free: int
    needed: int

    @property
    def missing(self) -> int:
        """How many more would be needed than are free."""
        return max(0, self.needed - self.free)


def tub_weeks(
    tubs: int, taken: Sequence[Taken], coming: Sequence[Coming], today: date, weeks: int
) -> list[TubWeek]:
    """The weeks from today on; a tub counts in every week in which it is taken or needed for a day.

    What should have come already is expected today.
    """
    return [_week(tubs, taken, coming, today, today + n * WEEK) for n in range(weeks)]


def tubs_for(bags: Sequence[str | None]) -> int:
    """Tubs for the lines of a shipment: one for each bag, and for each line that came in none."""
    return len({bag for bag in bags if bag is not None}) + sum(bag is None for bag in bags)


def _week(tubs: int, taken: Sequence[Taken], coming: Sequence[Coming], today: date, since: date) -> TubWeek:
    until = since + WEEK - timedelta(days=1)
    still = sum(tub.until is None or tub.until > since for tub in taken)
    needed = sum(
        one.tubs for one in coming if max(one.on, today) <= until and max(one.on, today) + STAY > since
    )
    return TubWeek(since, until, tubs, still, max(0, tubs - still), needed)
