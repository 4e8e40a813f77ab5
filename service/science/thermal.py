"""How fast eggs develop at a temperature, how sure that is, and how much of them has hatched."""

import math
from dataclasses import dataclass, replace
from statistics import NormalDist

from service.science.domain import OutOfDomain, finite, positive, within

SPREAD_OF_HATCHING = 0.186  # log-normal: within a clutch, between strains, thermometer and model together

LIVING_C = (-20, 45)  # no water animal develops outside


@dataclass(frozen=True)
class Development:
    """Development from one stage to the next in degree-days above a lower threshold (T0).

    Half of them are through after `thermal_constant_dd` (K50). The anchor is the observation it is tied to:
    K50 is about anchor_days x (anchor_c - T0). `lower_threshold_range` holds the believable T0, low and high.
    Above `optimum_c` it is no faster, above `maximum_c` nothing is credited. OutOfDomain when that is not so.
    """

    code: str
    lower_threshold_c: float
    thermal_constant_dd: float
    anchor_days: float
    anchor_c: float
    lower_threshold_range: tuple[float, float] | None
    optimum_c: float
    maximum_c: float

    def __post_init__(self) -> None:
        positive("thermal_constant_dd", self.thermal_constant_dd)
        positive("anchor_days", self.anchor_days)
        within("lower_threshold_c", self.lower_threshold_c, *LIVING_C)
        low, high = self.lower_threshold_range or (self.lower_threshold_c, self.lower_threshold_c)
        if not low <= self.lower_threshold_c <= high:
            raise OutOfDomain("lower_threshold_range", "The lower threshold must lie within its range.")
        if not high < min(self.anchor_c, self.optimum_c):
            raise OutOfDomain("lower_threshold_c", "The lower threshold must lie below anchor and optimum.")
        if not self.optimum_c <= self.maximum_c:
            raise OutOfDomain("optimum_c", "The optimum must not lie above the maximum.")


def rate(celsius: float, development: Development) -> float:
    """Degree-days per day: 0 up to the lower threshold and above the maximum, level from the optimum on."""
    finite("celsius", celsius)
    if celsius <= development.lower_threshold_c or celsius > development.maximum_c:
        return 0.0
    return min(celsius, development.optimum_c) - development.lower_threshold_c


def variants(development: Development) -> tuple[Development, ...]:
    """The development itself, and with the lowest and highest believable threshold through the same anchor.

    K = anchor_days x (anchor_c - T0). The latest of all is the date to trust: above the anchor's temperature
    the low threshold is the safe one, below it the high one.
    """
    through_anchor = (
        replace(
            development,
            lower_threshold_c=threshold_c,
            thermal_constant_dd=development.anchor_days * (development.anchor_c - threshold_c),
        )
        for threshold_c in development.lower_threshold_range or ()
    )
    return (development, *through_anchor)


def share_hatched(degree_days: float, development: Development, sigma: float = SPREAD_OF_HATCHING) -> float:
    """Share of single eggs hatched after so many degree-days: log-normal, Phi(ln(DD / K50) / sigma)."""
    finite("degree_days", degree_days)
    positive("sigma", sigma)
    if degree_days <= 0:
        return 0.0
    return NormalDist().cdf(math.log(degree_days / development.thermal_constant_dd) / sigma)


def share_hatched_of_any_age(
    degree_days: float, development: Development, sigma: float = SPREAD_OF_HATCHING
) -> float:
    """Share hatched so long after eggs were found that were of any age then, all equally likely.

    E[min(1, DD / H)] with H = K50 exp(sigma w), w standard normal:
    Phi(a) + (DD / K50) exp(sigma²/2) Phi(-a - sigma), a = ln(DD / K50) / sigma.
    """
    finite("degree_days", degree_days)
    positive("sigma", sigma)
    if degree_days <= 0:
        return 0.0
    normal, factor = NormalDist(), degree_days / development.thermal_constant_dd
    a = math.log(factor) / sigma
    return normal.cdf(a) + factor * math.exp(sigma * sigma / 2) * normal.cdf(-a - sigma)


def single_sine_degree_days(
    minimum_c: float, maximum_c: float, lower_threshold_c: float, optimum_c: float | None = None
) -> float:
    """Degree-days of a day known by its lowest and highest temperature, with a horizontal upper cut.

    Baskerville & Emin 1969, Ecology 50:514-517. Any one scale of temperature will do. OutOfDomain when the
    lowest is above the highest, or the optimum below the threshold.
    """
    finite("minimum_c", minimum_c)
    finite("maximum_c", maximum_c)
    finite("lower_threshold_c", lower_threshold_c)
    if not minimum_c <= maximum_c:
        raise OutOfDomain("minimum_c", "The lowest temperature of the day must not be above the highest.")
    refuse_cut_below(lower_threshold_c, optimum_c)
    above = _sine_above(minimum_c, maximum_c, lower_threshold_c)
    return above if optimum_c is None else above - _sine_above(minimum_c, maximum_c, optimum_c)


def refuse_cut_below(lower_threshold_c: float, optimum_c: float | None) -> None:
    """Refuse an upper cut below the lower threshold, which would take credit away; OutOfDomain."""
    if optimum_c is None:
        return
    finite("optimum_c", optimum_c)
    if optimum_c < lower_threshold_c:
        detail = f"optimum_c must not lie below the threshold of {lower_threshold_c}, not {optimum_c}."
        raise OutOfDomain("optimum_c", detail)


def _sine_above(minimum_c: float, maximum_c: float, threshold_c: float) -> float:
    mean, amplitude = (minimum_c + maximum_c) / 2, (maximum_c - minimum_c) / 2
    if minimum_c >= threshold_c:
        return mean - threshold_c
    if maximum_c <= threshold_c:
        return 0.0
    # A threshold a rounding step from the lowest or highest must not leave the sine.
    theta = math.asin(max(-1.0, min(1.0, (threshold_c - mean) / amplitude)))
    return ((mean - threshold_c) * (math.pi / 2 - theta) + amplitude * math.cos(theta)) / math.pi
