"""Rules of tubs: what breaks a contact through a tool, which readings can be, whose water is one."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum

from service.core.reasons import Reason
from service.journal.rules import judge_time
from service.science.readings import COLDEST_C, HOTTEST_C

HOT_C, HOT_MINUTES = 50.0, 5.0
FROZEN_MINUTES = 24 * 60.0
BLEACH_MINUTES = 15.0
MOST_READINGS = 5_000
SAME_C = 0.001  # a reading is kept to a thousandth of a degree
HIGHEST_PH = 14.0


class ToolKind(StrEnum):
    """What carries water from tub to tub."""

    NET = "net"
    TRAY = "tray"
    BUCKET = "bucket"
    TWEEZERS = "tweezers"
    OTHER = "other"


class Disinfection(StrEnum):
    """What is done to a tool between two waters."""

    HOT_WATER = "hot_water"
    FROZEN = "frozen"
    BLEACH = "bleach"
    DRIED = "dried"


class Substance(StrEnum):
    """What a test kit reads."""

    CHLORINE = "chlorine"
    COPPER = "copper"
    PH = "ph"


@dataclass(frozen=True)
class TypedReading:
    """A temperature as it was entered: when, in °C, as typed, and where it stands in the upload."""

    at: datetime
    celsius: float
    value: float
    unit: str
    at_pointer: str = "#/at"
    value_pointer: str = "#/value"


def breaks_contact(
    method: Disinfection,
    celsius: float | None,
    minutes: float,
    pest: str | None = None,
    *,
    stage: str | None = None,
) -> bool:
    """Whether a tool treated so no longer carries the water it was in (decision 15).

    Water of 50 °C or more for 5 minutes always; 24 h frozen (common practice, no source), but for no
    cocoon; bleach for 15 minutes (common practice) only when the question is hydra or grown flatworms;
    drying never. `pest` None asks for all pests at once.
    """
    if method is Disinfection.HOT_WATER:
        return celsius is not None and celsius >= HOT_C and minutes >= HOT_MINUTES
    if pest == "planarian" and stage != "adult":
        return False
    if method is Disinfection.FROZEN:
        return minutes >= FROZEN_MINUTES and (celsius is None or celsius < 0)
    return method is Disinfection.BLEACH and minutes >= BLEACH_MINUTES and pest in {"hydra", "planarian"}


def disinfection_reasons(method: Disinfection, celsius: float | None) -> list[Reason]:
    """What is missing to judge a disinfection: hot water counts by its temperature."""
    if method is Disinfection.HOT_WATER and celsius is None:
        return [Reason("celsius-missing", "Say how hot the water was.", pointer="#/celsius")]
    return []


def measurement_reasons(substance: Substance, value: float) -> list[Reason]:
    """Why a kit can't have shown this value: the pH scale ends at 14."""
    if substance is Substance.PH and value > HIGHEST_PH:
        return [Reason("implausible", "A pH lies between 0 and 14.", HIGHEST_PH, value, "#/value")]
    return []


def reading_reasons(
    readings: Sequence[TypedReading], now: datetime, late_reason: str | None, limit_days: int
) -> list[Reason]:
    """Everything wrong with an upload of temperatures, each reason pointing at its place.

    Outside -1..45 °C the probe is broken or out of the water; times follow the journal's rules; two
    readings of one moment must agree. One late reason stands for all.
    """
    found = [reason for reading in readings for reason in _wrong(reading, now, late_reason, limit_days)]
    late = [reason for reason in found if reason.code == "late-reason-missing"]
    return [reason for reason in found if reason not in late] + late[:1] + _at_odds(readings)


def differs(a_celsius: float, b_celsius: float) -> bool:
    """Whether two readings of the same water at the same moment contradict each other."""
    return abs(a_celsius - b_celsius) > SAME_C


def _wrong(reading: TypedReading, now: datetime, late_reason: str | None, limit_days: int) -> list[Reason]:
    reasons = [
        reason if reason.code == "late-reason-missing" else _moved(reason, reading.at_pointer)
        for reason in judge_time(reading.at, now, late_reason, limit_days)
    ]
    if not COLDEST_C <= reading.celsius <= HOTTEST_C:
        detail = f"Water is between {COLDEST_C:g} and {HOTTEST_C:g} °C; this is {reading.celsius:g} °C."
        reasons.append(Reason("implausible", detail, HOTTEST_C, reading.celsius, reading.value_pointer))
    return reasons


def _at_odds(readings: Sequence[TypedReading]) -> list[Reason]:
    first: dict[datetime, float] = {}
    detail = "This upload says something else for the same moment."
    return [
        Reason("contradiction", detail, first[r.at], r.celsius, r.value_pointer)
        for r in readings
        if differs(first.setdefault(r.at, r.celsius), r.celsius)
    ]


def _moved(reason: Reason, pointer: str) -> Reason:
    return Reason(reason.code, reason.detail, reason.needed, reason.have, pointer)
