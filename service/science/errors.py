"""How far a bath may be from what is aimed at: errors that add up, rounding that is too coarse, hard caps."""

import math
from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from service.science.copper import CAPS as COPPER_CAPS
from service.science.domain import OutOfDomain, finite, not_negative
from service.science.substances import Figure

Verdict = Literal["ok", "warn", "block"]

# Relative errors of one standard size each.
ERRORS: Mapping[str, Figure] = MappingProxyType(
    {
        "density": Figure(0.01, "1", "Two published fits of fresh bleach differ so much", "published"),
        "strength": Figure(0.05, "1", "Label strength of a fresh bottle", "assumption"),
        "volume": Figure(0.03, "1", "Filling a tub to a line, measuring the stock", "assumption"),
    }
)


@dataclass(frozen=True)
class RoundingLimits:
    """Shares by which rounding to the marks may move the result: more warns, still more blocks."""

    warn_above: float
    block_above: float


STRICT = RoundingLimits(0.05, 0.10)
LOOSE = RoundingLimits(0.10, 0.20)
# Assumptions: a wide margin between enough and too much (alum, salt) may be measured more loosely.
ROUNDING: Mapping[str, RoundingLimits] = MappingProxyType(
    {
        "chlorine": STRICT,
        "copper": STRICT,
        "permanganate": STRICT,
        "peroxide": STRICT,
        "alum": LOOSE,
        "salt": LOOSE,
    }
)

_GUARD = "Guard rail above every dose of the trade"
# mg/L of the substance that no bath may hold; copper by its form is in `copper.CAPS`.
CAPS: Mapping[str, Figure] = MappingProxyType(
    {
        "chlorine": Figure(5000, "mg/L", f"{_GUARD}; above it neutralising heats up as well", "assumption"),
        "permanganate": Figure(100, "mg/L", _GUARD, "assumption"),
        "peroxide": Figure(10_000, "mg/L", _GUARD, "assumption"),
        "alum": Figure(12_000, "mg/L", _GUARD, "assumption"),
        "salt": Figure(100_000, "mg/L", _GUARD, "assumption"),
    }
)


def combined_error(*relative_errors: float) -> float:
    """Independent relative errors in quadrature: the root of the sum of squares (GUM, JCGM 100:2008)."""
    for one in relative_errors:
        not_negative("relative_errors", one)
    return math.hypot(*relative_errors)


def rounding_verdict(substance: str, relative_error: float) -> Verdict:
    """What a relative departure by rounding means for a substance; OutOfDomain for one without limits."""
    if substance not in ROUNDING:
        raise OutOfDomain("substance", f"No rounding limits are on record for {substance!r}.")
    finite("relative_error", relative_error)
    limits, error = ROUNDING[substance], abs(relative_error)
    if error > limits.block_above:
        return "block"
    return "warn" if error > limits.warn_above else "ok"


def cap_mg_per_l(substance: str, copper_form: str | None = None) -> float:
    """The most of a substance that a bath may hold; copper of no known form counts as ionic.

    OutOfDomain for a substance without a cap.
    """
    if substance == "copper":
        return COPPER_CAPS.get(copper_form or "ionic", COPPER_CAPS["ionic"]).block_mg_per_l
    if substance not in CAPS:
        raise OutOfDomain("substance", f"No cap is on record for {substance!r}.")
    return CAPS[substance].value


def over_cap(substance: str, mg_per_l: float, copper_form: str | None = None) -> bool:
    """Whether a bath would hold more than may ever be mixed."""
    not_negative("mg_per_l", mg_per_l)
    return mg_per_l > cap_mg_per_l(substance, copper_form)
