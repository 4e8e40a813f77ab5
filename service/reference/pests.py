"""Pests: what hitch-hikes on plants, how fast its eggs develop and when its young can be seen."""

from dataclasses import dataclass
from typing import Literal

from service.reference.words import Count, CountingNumber, NotNegative, Positive, Sourced, Stage


@dataclass(frozen=True, kw_only=True)
class Limits(Sourced):
    """Celsius above which development is no faster (`optimum_c`), and above which none is credited."""

    optimum_c: float
    maximum_c: float


@dataclass(frozen=True, kw_only=True)
class ThresholdRange(Sourced):
    """The lowest and highest believable lower threshold, in °C."""

    low_c: float
    high_c: float


@dataclass(frozen=True, kw_only=True)
class DevelopmentFigures(Sourced):
    """From laying to hatching: half have hatched after `thermal_constant_dd` degree-days above the threshold.

    The anchor is the observation that the constant is tied to:
    thermal_constant_dd = anchor_days x (anchor_c - lower_threshold_c).
    """

    lower_threshold_c: float
    thermal_constant_dd: Positive
    anchor_days: Positive
    anchor_c: float
    threshold_range: ThresholdRange
    limits: Limits


@dataclass(frozen=True, kw_only=True)
class Visibility(Sourced):
    """From hatching until a person can see the young: degree-days above `threshold_c`, or `days`."""

    degree_days: NotNegative | None = None
    threshold_c: float | None = None
    days: NotNegative | None = None


@dataclass(frozen=True, kw_only=True)
class Eggs(Sourced):
    """What a find of eggs looks like (`form`), and how many eggs one mass or cocoon holds."""

    form: str
    per_mass_low: CountingNumber
    per_mass_high: CountingNumber


@dataclass(frozen=True, kw_only=True)
class Pest(Sourced):
    """One pest group as the nursery records it; the source and grade are those of name and habits.

    `lays_eggs`: found in a tub, it may have laid eggs there that hatch later. `hatch_gate`: clearance waits
    for its eggs to hatch. `resets_clock`: a live find starts quarantine anew. `night_baits`: clean looks at
    a bait left overnight that are owed. `not_covered`: sentences that the statement prints.
    """

    code: str
    name: str
    taxon: str
    synonyms: tuple[str, ...] = ()
    category: Literal["hitch_hiker", "harmless", "plant_pest"]
    stages: tuple[Stage, ...]
    recognition: str
    spread: str
    lays_eggs: bool
    regulated: Literal["none", "check_local", "notifiable"]
    hatch_gate: bool
    resets_clock: bool
    night_baits: Count = 0
    not_covered: tuple[str, ...] = ()
    eggs: Eggs | None = None
    development: DevelopmentFigures | None = None
    visibility: Visibility | None = None
