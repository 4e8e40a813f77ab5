"""What left stock unused: what a count missed or found more, and what was disposed of, month by month."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date

from service.reports.rules import By, Sums, period, totals

COUNTED_SHORT, COUNTED_OVER = "counted_short", "counted_over"


@dataclass(frozen=True)
class Lost:
    """What left stock of a material on one local day without being used, and how."""

    day: date
    material_id: str
    how: str
    sums: Sums


def how(reason: str, way: str | None, amount: int) -> str:
    """How a line of a count or of a disposal took stock away: short or over, or the way it left the house."""
    if reason == "count":
        return COUNTED_OVER if amount > 0 else COUNTED_SHORT
    return way or reason


def by_month(lines: Iterable[Lost]) -> dict[tuple[str, str, str], tuple[Sums, int]]:
    """Per month (2026-03), material and how: the sums, and of how many lines."""
    kept = [((period(By.MONTH, line.day), line.material_id, line.how), line.sums) for line in lines]
    many = Counter(key for key, _ in kept)
    return {key: (sums, many[key]) for key, sums in totals(kept).items()}
