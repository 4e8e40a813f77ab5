"""What use is to be expected of a material that is used now and then, and how low it may sink."""

from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean

from service.science.demand import (
    DailyDemand,
    daily_demand,
    negative_binomial_quantile,
    poisson_quantile,
    reorder_point,
    service_factor,
)
from service.science.intermittent import teunter_syntetos_babai

FEWEST_USES = 2
# Days from one use to the next above which demand counts as intermittent (Syntetos, Boylan and Croston,
# J. Oper. Res. Soc. 56, 2005, 495-503).
INTERMITTENT_INTERVAL = 1.32
SMOOTHING = 0.1  # as in the worked example of Hyndman and Athanasopoulos, Forecasting, 2nd ed., 12.2


@dataclass(frozen=True)
class Expected:
    """The use expected in a day; `use_size` is that of one use when days without use are the rule."""

    demand: DailyDemand
    use_size: float | None = None


NOTHING = Expected(DailyDemand(0.0, 0.0))


def enough_history(used: Sequence[int]) -> bool:
    """Whether the past says anything about the future: two uses at least, on two days."""
    return sum(1 for amount in used if amount > 0) >= FEWEST_USES


def expected_use(used: Sequence[int]) -> Expected:
    """From what was used on each day, days without use as 0; nothing while there is no history.

    The plain mean where nearly every day sees a use, else size times chance of a use (Teunter, Syntetos and
    Babai 2011), which sinks when a material goes out of use.
    """
    if not enough_history(used):
        return NOTHING
    plain = daily_demand(used)
    uses = [amount for amount in used if amount > 0]
    if len(used) <= INTERMITTENT_INTERVAL * len(uses):
        return Expected(plain)
    mean = teunter_syntetos_babai(used, SMOOTHING, SMOOTHING)
    return Expected(DailyDemand(mean, plain.deviation), fmean(uses))


def lowest_before_order(
    expected: Expected, lead_time_days: float, lead_time_deviation_days: float, service_level: float
) -> float:
    """The reorder point in base units: d L + z sqrt(L sd^2 + d^2 sd_L^2).

    For intermittent use whole uses are counted: the quantile of a negative binomial with the mean and the
    variance of the use until delivery, of Poisson's where it varies no more than that.
    """
    demand, size = expected.demand, expected.use_size
    if size is None:
        z = service_factor(service_level)
        return reorder_point(demand, lead_time_days, z, lead_time_deviation_days=lead_time_deviation_days)
    mean = demand.mean * lead_time_days / size
    spread = lead_time_days * demand.deviation**2 + (demand.mean * lead_time_deviation_days) ** 2
    variance = spread / size**2
    if variance > mean > 0:
        return negative_binomial_quantile(mean, variance, service_level) * size
    return poisson_quantile(mean, service_level) * size
