"""A tenth of a lot is tried before the rest where nobody knows how it takes a method (decision 25).

Common practice, no source: melt shows late, so the stems are judged on day 2, 7 and 14.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.core.reasons import Reason
from service.science.proportions import exact_interval

DAYS = (2, 7, 14)
SLACK = timedelta(hours=12)  # a look in the morning of the second day is one of day 2
FEWEST_ELSEWHERE = 5  # of the kind that survived here before; fewer say nothing, common practice, no source
ONE_SIDED = 0.90  # two-sided limits of 90 % are one-sided ones of 95 %


@dataclass(frozen=True)
class Judged:
    """How many stems lived at a moment."""

    at: datetime
    alive: int


@dataclass(frozen=True)
class Tried:
    """Stems that a method was tried on."""

    stems: int
    at: datetime
    judged: Sequence[Judged] = ()

    @property
    def dead(self) -> int:
        """How many had died when they were last judged."""
        return self.stems - min((one.alive for one in self.judged), default=self.stems)


def lost_at_most(dead: int, stems: int) -> float:
    """The share of such plants that the method may cost, with 95 %, when so many of the stems died.

    Clopper and Pearson (1934), one-sided; for none of n it is 1 - 0.05^(1/n): 45 % of 5, 26 % of 10.
    """
    return exact_interval(dead, stems, ONE_SIDED).high


def due_at(tried: Tried) -> datetime | None:
    """When they are to be judged next; None when every day was seen, or one has died."""
    owed = days_owed(tried)
    return None if not owed or tried.dead else tried.at + timedelta(days=owed[0])


def days_owed(tried: Tried) -> list[int]:
    """The days on which nobody has judged them; a look counts for the last of the days that is over."""
    seen = {_day(tried.at, one.at) for one in tried.judged}
    return [day for day in DAYS if day not in seen]


def stems_reasons(stems: int, units: int) -> list[Reason]:
    """Why so many stems may not be tried: more than a tenth, or the lot is a single plant."""
    if units <= 1:
        detail = "There is one plant only: no part of it can stand in for the rest; an owner may override."
        return [Reason("one-plant-only", detail, have=units)]
    most = max(1, units // 10)
    if stems > most:
        detail = f"At most a tenth of the lot is tried: {most} of {units}."
        return [Reason("more-than-a-tenth", detail, most, stems, "#/stems")]
    return []


def judgement_reasons(tried: Tried, alive: int, at: datetime) -> list[Reason]:
    """Why a judgement cannot be: more alive than were tried or than lived before, or too early."""
    before = [one.alive for one in tried.judged if one.at <= at]
    most = min([tried.stems, *before])
    if alive > most:
        return [Reason("more-than-there-is", f"At most {most} were alive.", most, alive, "#/alive")]
    after = [one.alive for one in tried.judged if one.at > at]
    if alive < max(after, default=0):
        detail = f"{max(after)} were found alive later."
        return [Reason("fewer-than-later", detail, max(after), alive, "#/alive")]
    return []


def doubt_reasons(code: str, method: str, level: str, tried: Tried | None, *, units: int) -> list[Reason]:
    """Why a lot may not get a method that is in doubt for its plant: what its stems have yet to show."""
    if tried is None and units <= 1:
        detail = f"Lot {code} is one plant only and how it takes {method} is in doubt ({level})."
        return [Reason("plant-avoids-method", detail, "override_reason of an owner", level)]
    if tried is None:
        detail = (
            f"Lot {code}: how this plant takes {method} is in doubt ({level}); try it on a tenth of the lot "
            "first (POST /lots/{id}/trial-stems), or say how many of this kind survived it here."
        )
        return [Reason("trial-stems-needed", detail, "trial stems, or survived_here", level)]
    if tried.dead:
        most = lost_at_most(tried.dead, tried.stems)
        died = f"{tried.dead} of {tried.stems} stems died of {method}"
        detail = f"Lot {code}: {died}; of the rest up to {most:.0%} may."
        return [Reason("plant-avoids-method", detail, "override_reason of an owner", f"{tried.dead} died")]
    owed = days_owed(tried)
    if owed:
        days = ", ".join(str(day) for day in owed)
        detail = f"Lot {code}: its trial stems have yet to be judged on day {days}."
        return [Reason("trial-stems-waiting", detail, f"judged on day {days}", len(tried.judged))]
    return []


def _day(tried_at: datetime, at: datetime) -> int:
    return max((day for day in DAYS if at - tried_at >= timedelta(days=day) - SLACK), default=0)
