"""Shares of units: how sure one is, how two compare, and how many units a comparison needs.

Counts are of independent units. Units of one tub are not: `effective_sample_size` says what they are worth.
"""

import math
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from statistics import NormalDist

from scipy.special import betaincinv

from service.science.domain import OutOfDomain, within
from service.science.hypergeometric import log_probabilities

MOST_UNITS = 10_000_000
LEAST_CONFIDENCE = 1e-9  # and as far from certainty
TIE = 1e-9  # relative: tables as likely as the one seen count as such, whatever the last bits say
WIDEST_LOG_RATIO = 40.0
HALVINGS = 100


@dataclass(frozen=True)
class Interval:
    """An estimate and its two-sided limits at the confidence asked for."""

    estimate: float
    low: float
    high: float


@dataclass(frozen=True)
class ExactTest:
    """The chance of a table like the one seen, or further off, when both groups are alike.

    `less`: that the first group has so few or fewer; `greater`: so many or more; `two_sided`: any table that
    is no likelier.
    """

    two_sided: float
    less: float
    greater: float


def two_sided_factor(confidence: float) -> float:
    """z of a two-sided interval: 1.96 for 0.95."""
    within("confidence", confidence, LEAST_CONFIDENCE, 1 - LEAST_CONFIDENCE)
    return NormalDist().inv_cdf((1 + confidence) / 2)


def wilson_interval(count: float, count_total: float, confidence: float = 0.95) -> Interval:
    """Wilson's score interval of a share (J. Am. Stat. Assoc. 22, 1927): the one to show."""
    _refuse_count("count", count, count_total)
    z = two_sided_factor(confidence)
    estimate = count / count_total
    middle = count + z * z / 2
    margin = z * math.sqrt(count * (1 - estimate) + z * z / 4)
    whole = count_total + z * z
    low = 0.0 if count == 0 else (middle - margin) / whole
    high = 1.0 if count == count_total else (middle + margin) / whole
    return Interval(estimate, low, high)


def exact_interval(count: int, count_total: int, confidence: float = 0.95) -> Interval:
    """The interval of Clopper and Pearson (Biometrika 26, 1934): never covers less than it says."""
    _refuse_count("count", count, count_total)
    within("confidence", confidence, LEAST_CONFIDENCE, 1 - LEAST_CONFIDENCE)
    tail = (1 - confidence) / 2
    low = 0.0 if count == 0 else float(betaincinv(count, count_total - count + 1, tail))
    high = 1.0 if count == count_total else float(betaincinv(count + 1, count_total - count, 1 - tail))
    return Interval(count / count_total, low, high)


def fisher_exact(first: int, first_total: int, second: int, second_total: int) -> ExactTest:
    """Fisher's exact test that two groups have the same share, over all tables with the same margins."""
    _refuse_count("first", first, first_total)
    _refuse_count("second", second, second_total)
    chances = {
        count: math.exp(log_chance)
        for count, log_chance in log_probabilities(first_total + second_total, first + second, first_total)
    }
    seen = chances[first] * (1 + TIE)
    return ExactTest(
        two_sided=_sum(chance for chance in chances.values() if chance <= seen),
        less=_sum(chance for count, chance in chances.items() if count <= first),
        greater=_sum(chance for count, chance in chances.items() if count >= first),
    )


def risk_ratio(
    first: float, first_total: float, second: float, second_total: float, confidence: float
) -> Interval:
    """First share through second, with Koopman's score limits (Biometrics 40, 1984, 513-517).

    Sound for none in the first group. OutOfDomain when the second has none: there is nothing to compare with.
    """
    _refuse_count("first", first, first_total)
    _refuse_count("second", second, second_total)
    if second == 0:
        raise OutOfDomain("second", "second must be above zero: without any there is no ratio.")
    z = two_sided_factor(confidence)

    def score(log_ratio: float) -> float:
        return _ratio_score(first, first_total, second, second_total, math.exp(log_ratio))

    low = 0.0 if first == 0 else math.exp(_crossing(lambda at: score(at) > z))
    high = math.exp(_crossing(lambda at: score(at) > -z))
    return Interval(first / first_total * second_total / second, low, high)


def share_difference(
    first: int, first_total: int, second: int, second_total: int, confidence: float = 0.95
) -> Interval:
    """First share less second, from their Wilson limits (Newcombe, Stat. Med. 17, 1998, 873: method 10)."""
    _refuse_count("first", first, first_total)
    _refuse_count("second", second, second_total)
    one = wilson_interval(first, first_total, confidence)
    other = wilson_interval(second, second_total, confidence)
    difference = one.estimate - other.estimate
    return Interval(
        difference,
        difference - math.hypot(one.estimate - one.low, other.high - other.estimate),
        difference + math.hypot(one.high - one.estimate, other.estimate - other.low),
    )


def holm(chances: Sequence[float]) -> tuple[float, ...]:
    """P values corrected for their number, in the order given (Holm, Scand. J. Stat. 6, 1979)."""
    for chance in chances:
        within("chances", chance, 0, 1)
    corrected = [0.0] * len(chances)
    largest = 0.0
    for rank, place in enumerate(sorted(range(len(chances)), key=chances.__getitem__)):
        largest = max(largest, min(1.0, (len(chances) - rank) * chances[place]))
        corrected[place] = largest
    return tuple(corrected)


def effective_sample_size(units: int, units_in_cluster: float, intra_cluster_correlation: float) -> float:
    """Independent units that clustered ones are worth: n / (1 + (m-1) r) (Kish, Survey Sampling, 1965)."""
    within("units", units, 1, MOST_UNITS)
    within("units_in_cluster", units_in_cluster, 1, units)
    within("intra_cluster_correlation", intra_cluster_correlation, 0, 1)
    return units / (1 + (units_in_cluster - 1) * intra_cluster_correlation)


def units_per_arm(first_share: float, second_share: float, confidence: float, power: float) -> int:
    """Units in each of two groups to see two unlike shares: 2 (z + z_power)^2 / h^2, rounded up.

    h = 2 asin(sqrt(p1)) - 2 asin(sqrt(p2)) (Cohen, Statistical Power Analysis, 2nd ed. 1988, 6.4).
    """
    within("first_share", first_share, 0, 1)
    within("second_share", second_share, 0, 1)
    within("power", power, 0.5, 1 - LEAST_CONFIDENCE)
    if first_share == second_share:
        raise OutOfDomain("second_share", "second_share must not be first_share: alike they never differ.")
    effect = 2 * (math.asin(math.sqrt(first_share)) - math.asin(math.sqrt(second_share)))
    factors = two_sided_factor(confidence) + NormalDist().inv_cdf(power)
    return math.ceil(2 * (factors / effect) ** 2)


def _ratio_score(first: float, first_total: float, second: float, second_total: float, ratio: float) -> float:
    """How many deviations the shares lie above this ratio, with the shares likeliest at it."""
    gap = first / first_total - ratio * second / second_total
    if gap == 0:
        return 0.0
    square = (first_total + second_total) * ratio
    linear = first_total * ratio + first + second_total + second * ratio
    root = math.sqrt(max(0.0, linear * linear - 4 * square * (first + second)))
    second_likely = 2 * (first + second) / (linear + root)
    first_likely = min(1.0, ratio * second_likely)
    variance = first_likely * (1 - first_likely) / first_total
    variance += ratio * ratio * second_likely * (1 - second_likely) / second_total
    return gap / math.sqrt(variance) if variance > 0 else math.copysign(math.inf, gap)


def _crossing(above: Callable[[float], bool]) -> float:
    """Where, in log ratios, it stops to hold."""
    low, high = -WIDEST_LOG_RATIO, WIDEST_LOG_RATIO
    for _ in range(HALVINGS):
        middle = (low + high) / 2
        low, high = (middle, high) if above(middle) else (low, middle)
    return high


def _sum(chances: Iterable[float]) -> float:
    return min(1.0, math.fsum(chances))


def _refuse_count(parameter: str, count: float, total: float) -> None:
    within(f"{parameter}_total", total, 1, MOST_UNITS)
    within(parameter, count, 0, total)
