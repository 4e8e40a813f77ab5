"""Rules of looks: what can be counted, what a sample may be, what is clean, who may void."""

import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Literal

from service.core.reasons import Reason

SECONDS_PER_UNIT = 45  # own assumption, to be replaced by the nursery's own times
UNCOUNTABLE_UNITS = frozenset({"portion", "mat"})
UNCOUNTABLE_LOOKS = frozenset({"moss_fine"})
SampleUnit = Literal["unit", "g"]


class LookMethod(StrEnum):
    """How a look is made."""

    EYES = "eyes"
    STRAIN = "strain"
    BAIT = "bait"
    BAIT_NIGHT = "bait_night"
    SEALED_CUP = "sealed_cup"


BY_UNIT = frozenset({LookMethod.EYES, LookMethod.SEALED_CUP})
"""Ways to look at units; all others are at the water."""


class Stage(StrEnum):
    """Life stages; a cocoon is an egg."""

    EGG = "egg"
    HATCHLING = "hatchling"
    JUVENILE = "juvenile"
    ADULT = "adult"


@dataclass(frozen=True)
class Find:
    """A pest found at a look; `removed`: picked off, so gone from the lot."""

    pest: str
    stage: str
    live: int
    dead: int
    removed: bool


@dataclass(frozen=True)
class Look:
    """A look that counts for a lot: at the lot, or at the water it was in (`whole_tub`)."""

    inspection_id: str
    at: datetime
    method: str
    sample_size: int
    lot_size: int | None
    full: bool
    clean: bool
    findings: tuple[Find, ...]
    whole_tub: bool
    strata: tuple[tuple[str, int], ...] = ()  # of parts of the lot: name, how many were looked at


@dataclass(frozen=True)
class Sample:
    """How much was looked at: the size, in units or grams, of how many units (None: not counted)."""

    size: int
    unit: SampleUnit
    lot_size: int | None
    full: bool


@dataclass(frozen=True)
class Units:
    """What there was to look at: how many units (`counted`), and whether "n of N" can be said of them."""

    counted: int
    countable: bool


def units_of(left: int, unit_of_sale: str, stems_per_bunch: int | None, *, untied: bool) -> int:
    """The units to draw from: stems where bunches were untied (lead and band off), else what is sold."""
    stems = unit_of_sale == "bunch" and untied and stems_per_bunch is not None
    return left * (stems_per_bunch or 1) if stems else left


def is_countable(unit_of_sale: str, look_class: str) -> bool:
    """Whether units can be counted: moss, portions and mats are teased apart instead (decision 28)."""
    return unit_of_sale not in UNCOUNTABLE_UNITS and look_class not in UNCOUNTABLE_LOOKS


def is_whole_tub(method: LookMethod, *, of_tub: bool) -> bool:
    """Whether a look is at the water as a whole: strain and bait always, eyes when a tub is named."""
    return of_tub or method not in BY_UNIT


def sample_of(
    method: LookMethod, asked: int | None, unit: SampleUnit, units: Units, *, of_tub: bool
) -> Sample:
    """The sample of a look: strain and bait have none of their own; a whole tub is all in it unless said."""
    lot_size = units.counted if units.countable and method in BY_UNIT else None
    if method not in BY_UNIT:
        return Sample(asked or 0, unit, lot_size, full=False)
    size = asked if asked is not None or not of_tub else units.counted
    full = unit == "unit" and 0 < units.counted <= (size or 0)
    return Sample(size or 0, unit, lot_size, full=full)


def sample_reasons(
    method: LookMethod, asked: int | None, unit: SampleUnit, units: Units, *, of_tub: bool
) -> list[Reason]:
    """What is wrong with a sample: missing for eyes, larger than the lot, or grams of what is counted."""
    pointer = "#/sample_size"
    if method not in BY_UNIT:
        return []
    if asked is None:
        return (
            [] if of_tub else [Reason("sample-size-missing", "Say how many were looked at.", pointer=pointer)]
        )
    if unit == "g":
        detail = "Grams are only for moss, portions and mats."
        return [] if not units.countable else [Reason("unit", detail, pointer="#/sample_unit")]
    if asked == 0:
        return [Reason("sample-size-missing", "A look takes in at least one.", 1, 0, pointer)]
    if asked > units.counted:
        detail = f"There were only {units.counted} to look at."
        return [Reason("more-than-there-is", detail, units.counted, asked, pointer)]
    return []


def finding_reasons(findings: Sequence[Find], known: Collection[str]) -> list[Reason]:
    """What is wrong with findings: a pest nobody knows, or nothing counted."""
    reasons = []
    for place, find in enumerate(findings):
        if find.pest not in known:
            detail = f"Unknown pest. Use one of: {' '.join(sorted(known))}."
            reasons.append(Reason("unknown-pest", detail, pointer=f"#/findings/{place}/pest"))
        if find.live + find.dead == 0:
            detail = "Say how many were alive or dead; leave out what was not found."
            reasons.append(Reason("nothing-counted", detail, pointer=f"#/findings/{place}"))
    return reasons


def is_clean(findings: Sequence[Find], resetting: Collection[str]) -> bool:
    """Whether nothing was found that starts quarantine anew: harmless and dead ones don't count."""
    return not any(find.live > 0 and find.pest in resetting for find in findings)


def found_alive(findings: Sequence[Find], pests: Collection[str]) -> bool:
    """Whether one of these pests was found alive."""
    return any(find.live > 0 and find.pest in pests for find in findings)


def void_reasons(*, voided: bool, regulated: bool, same_person: bool) -> list[Reason]:
    """Why a look may not be voided: it is already, or a regulated find needs a second person."""
    if voided:
        return [Reason("already-voided", "This look was voided before.")]
    if regulated and same_person:
        detail = (
            "A regulated pest was recorded: somebody else than who recorded it must void it. "
            "A token made for nobody counts as whoever made it: make tokens for people (person_id)."
        )
        return [Reason("second-person-needed", detail)]
    return []


def minutes(units: int, looks: int = 1) -> int:
    """Minutes that looking at so many units takes, so many times: 45 seconds each, rounded up."""
    return math.ceil(units * looks * SECONDS_PER_UNIT / 60)
