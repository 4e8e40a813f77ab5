"""Copper: how much a tub may hold by its form, what re-dosing comes to, what natural waters bear."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from service.science.domain import OutOfDomain, not_negative, positive, within
from service.science.substances import element_share


@dataclass(frozen=True)
class CopperCap:
    """Copper in mg/L above which to warn (None: no warning before the block), and above which to block."""

    warn_mg_per_l: float | None
    block_mg_per_l: float


# Assumptions, editable: 0.4 mg/L is the usual dose of ionic copper; chelates need more for the same effect.
CAPS: Mapping[str, CopperCap] = MappingProxyType(
    {
        "ionic": CopperCap(0.6, 1.0),
        "amine": CopperCap(None, 1.0),
        "chelate": CopperCap(None, 2.5),
    }
)
USUAL_DECAY_PER_DAY = 0.15  # assumption, 0.05 to 0.5 by plants and gravel; measure it
DISSOLVED_SHARE = 0.960
POND_LEAST_ALKALINITY = 50.0
POND_MOST_MG_PER_L = 2.5


def copper_cap(form: str) -> CopperCap:
    """The caps of a form, `ionic`, `amine` or `chelate`; OutOfDomain when the form is not on record."""
    if form not in CAPS:
        raise OutOfDomain("form", f"The copper's form must be one of {', '.join(CAPS)}, not {form!r}.")
    return CAPS[form]


def salt_g(copper_mg_per_l: float, volume_l: float, salt: str = "copper_sulfate_pentahydrate") -> float:
    """Grams of a copper salt to make up a volume; 3.929 g of copper sulfate pentahydrate to 1 L are 1 g/L."""
    not_negative("copper_mg_per_l", copper_mg_per_l)
    positive("volume_l", volume_l)
    return copper_mg_per_l * volume_l / 1000 / element_share(salt)


def blind_level_mg_per_l(
    dose_mg_per_l: float, doses: int, fraction: float, rate_per_day: float = 0.0, days: float = 0.0
) -> float:
    """Level after full doses without a reading, each after a change of a share of the water.

    D (1 - q^n) / (1 - q), q = (1 - f) exp(-k t) for `days` between doses. It nears `blind_limit_mg_per_l`.
    """
    not_negative("doses", doses)
    share_left = _share_left(fraction, rate_per_day, days)
    not_negative("dose_mg_per_l", dose_mg_per_l)
    return dose_mg_per_l * math.fsum(share_left**n for n in range(doses))


def blind_limit_mg_per_l(
    dose_mg_per_l: float, fraction: float, rate_per_day: float = 0.0, days: float = 0.0
) -> float:
    """Where blind full doses end: D / (1 - q), twice the dose at half changes without loss.

    OutOfDomain when nothing is changed or lost: it has no end.
    """
    not_negative("dose_mg_per_l", dose_mg_per_l)
    share_left = _share_left(fraction, rate_per_day, days)
    if share_left == 1:
        raise OutOfDomain("fraction", "Nothing is changed or lost: blind doses pile up without end.")
    return dose_mg_per_l / (1 - share_left)


def change_to_reach(read_mg_per_l: float, target_mg_per_l: float) -> float:
    """Share of the water to replace by copper-free water to come down to the target; 0 at or below it."""
    positive("read_mg_per_l", read_mg_per_l)
    not_negative("target_mg_per_l", target_mg_per_l)
    return max(0.0, 1 - target_mg_per_l / read_mg_per_l)


def dilution_factor(held_mg_per_l: float, limit_mg_per_l: float) -> float:
    """How many times water must be diluted to come down to a limit; at least 1."""
    not_negative("held_mg_per_l", held_mg_per_l)
    positive("limit_mg_per_l", limit_mg_per_l)
    return max(1.0, held_mg_per_l / limit_mg_per_l)


def acute_criterion_ug_per_l(hardness_mg_per_l: float, *, dissolved: bool = True) -> float:
    """Copper in µg/L that freshwater life bears for an hour: exp(0.9422 ln H - 1.700), dissolved x 0.960.

    40 CFR 132, table 1; hardness as CaCO3, 25 to 400 mg/L. The 2007 national criteria use a model instead.
    """
    return _criterion(hardness_mg_per_l, 0.9422, -1.700, dissolved=dissolved)


def chronic_criterion_ug_per_l(hardness_mg_per_l: float, *, dissolved: bool = True) -> float:
    """Copper in µg/L that freshwater life bears for days: exp(0.8545 ln H - 1.702), dissolved x 0.960.

    40 CFR 132, table 2; else as `acute_criterion_ug_per_l`.
    """
    return _criterion(hardness_mg_per_l, 0.8545, -1.702, dissolved=dissolved)


def pond_sulfate_mg_per_l(alkalinity_mg_per_l: float) -> float:
    """Copper sulfate pentahydrate in mg/L by the fish ponds' rule: alkalinity / 100, at most 2.5.

    UF/IFAS FA008. OutOfDomain below an alkalinity of 50 mg/L as CaCO3: copper kills fish there.
    """
    positive("alkalinity_mg_per_l", alkalinity_mg_per_l)
    if alkalinity_mg_per_l < POND_LEAST_ALKALINITY:
        raise OutOfDomain(
            "alkalinity_mg_per_l",
            f"Below an alkalinity of {POND_LEAST_ALKALINITY:g} mg/L no copper sulfate is used, "
            f"not at {alkalinity_mg_per_l}.",
        )
    return min(alkalinity_mg_per_l / 100, POND_MOST_MG_PER_L)


def _share_left(fraction: float, rate_per_day: float, days: float) -> float:
    within("fraction", fraction, 0, 1)
    not_negative("rate_per_day", rate_per_day)
    not_negative("days", days)
    return (1 - fraction) * math.exp(-rate_per_day * days)


def _criterion(hardness_mg_per_l: float, slope: float, intercept: float, *, dissolved: bool) -> float:
    within("hardness_mg_per_l", hardness_mg_per_l, 25, 400)
    total = math.exp(slope * math.log(hardness_mg_per_l) + intercept)
    return total * DISSOLVED_SHARE if dissolved else total
