"""Mixing, diluting, rinsing and re-dosing: conservation of mass, volumes taken as additive."""

import math
from collections.abc import Sequence

from service.science.domain import OutOfDomain, not_negative, positive, share, within

MOST_RINSES = 20


def stock_volume_ml(target_mg_per_l: float, total_volume_l: float, stock_g_per_l: float) -> float:
    """Millilitres of stock to make up to a total volume: C1 V1 = C2 V2.

    OutOfDomain when the stock is weaker than the target.
    """
    not_negative("target_mg_per_l", target_mg_per_l)
    positive("total_volume_l", total_volume_l)
    positive("stock_g_per_l", stock_g_per_l)
    if target_mg_per_l > 1000 * stock_g_per_l:
        raise OutOfDomain("target_mg_per_l", "The stock is weaker than the target.")
    return target_mg_per_l * total_volume_l / stock_g_per_l


def added_stock_volume_ml(target_mg_per_l: float, water_volume_l: float, stock_g_per_l: float) -> float:
    """Millilitres of stock to add to a volume of water, which grows by them.

    OutOfDomain when the stock is no stronger than the target.
    """
    not_negative("target_mg_per_l", target_mg_per_l)
    positive("water_volume_l", water_volume_l)
    positive("stock_g_per_l", stock_g_per_l)
    surplus_g_per_l = stock_g_per_l - target_mg_per_l / 1000
    if surplus_g_per_l <= 0:
        raise OutOfDomain("target_mg_per_l", "The stock is no stronger than the target.")
    return target_mg_per_l * water_volume_l / surplus_g_per_l


def mass_g(target_mg_per_l: float, volume_l: float, content_fraction: float = 1.0) -> float:
    """Grams of a solid to make up a volume; `content_fraction` is its share of what the target counts."""
    not_negative("target_mg_per_l", target_mg_per_l)
    positive("volume_l", volume_l)
    share("content_fraction", content_fraction)
    return target_mg_per_l * volume_l / 1000 / content_fraction


def dilution_result_mg_per_l(stock_g_per_l: float, stock_ml: float, total_l: float) -> float:
    """Concentration in mg/L of stock made up to `total_l`; OutOfDomain when it does not fit in."""
    positive("stock_g_per_l", stock_g_per_l)
    not_negative("stock_ml", stock_ml)
    positive("total_l", total_l)
    if stock_ml > 1000 * total_l:
        raise OutOfDomain("stock_ml", "There is more stock than the total volume.")
    return stock_g_per_l * stock_ml / total_l


def rinse_series(start_mg_per_l: float, carry_over_l: float, rinse_volumes_l: Sequence[float]) -> list[float]:
    """Concentration in mg/L in each rinse when `carry_over_l` is carried from one to the next."""
    not_negative("start_mg_per_l", start_mg_per_l)
    not_negative("carry_over_l", carry_over_l)
    found: list[float] = []
    for volume_l in rinse_volumes_l:
        positive("rinse_volumes_l", volume_l)
        before = found[-1] if found else start_mg_per_l
        found.append(before * carry_over_l / (volume_l + carry_over_l))
    return found


def after_water_change(
    before_mg_per_l: float, fraction: float, new_water_mg_per_l: float = 0.0, carry_over: float = 0.02
) -> float:
    """Concentration in mg/L after a share of the water is replaced: (1 - f) before + f new.

    `carry_over` is the share that clings to plants and walls (0.02 by assumption, weigh it once): no change
    replaces more than 1 - carry_over.
    """
    not_negative("before_mg_per_l", before_mg_per_l)
    within("fraction", fraction, 0, 1)
    not_negative("new_water_mg_per_l", new_water_mg_per_l)
    within("carry_over", carry_over, 0, 1)
    replaced = min(fraction, 1 - carry_over)
    return (1 - replaced) * before_mg_per_l + replaced * new_water_mg_per_l


def mixed_mg_per_l(parts: Sequence[tuple[float, float]]) -> float:
    """Concentration in mg/L of solutions poured together, as pairs of (mg/L, litres): the mass is conserved.

    OutOfDomain when nothing is poured.
    """
    for mg_per_l, litres in parts:
        not_negative("mg_per_l", mg_per_l)
        not_negative("litres", litres)
    total_l = math.fsum(litres for _, litres in parts)
    positive("total_l", total_l)
    return math.fsum(mg_per_l * litres for mg_per_l, litres in parts) / total_l


def rinses_until(start_mg_per_l: float, carry_over_l: float, rinse_l: float, limit_mg_per_l: float) -> int:
    """How many rinses of one volume bring what is carried over below a limit.

    OutOfDomain when 20 do not: carry less over, rinse in more, or neutralise.
    """
    positive("limit_mg_per_l", limit_mg_per_l)
    positive("rinse_l", rinse_l)
    levels = [start_mg_per_l, *rinse_series(start_mg_per_l, carry_over_l, [rinse_l] * MOST_RINSES)]
    for rinses, level in enumerate(levels):
        if level < limit_mg_per_l:
            return rinses
    raise OutOfDomain("carry_over_l", f"{MOST_RINSES} rinses are not enough: carry less over or neutralise.")


def redose_mg(volume_l: float, target_mg_per_l: float, after_change_mg_per_l: float) -> float:
    """Milligrams that bring a tub back to its target; 0 when it is there or above."""
    positive("volume_l", volume_l)
    not_negative("target_mg_per_l", target_mg_per_l)
    not_negative("after_change_mg_per_l", after_change_mg_per_l)
    return volume_l * max(0.0, target_mg_per_l - after_change_mg_per_l)


def decayed_mg_per_l(before_mg_per_l: float, rate_per_day: float, days: float) -> float:
    """Concentration in mg/L after first-order loss: C exp(-k t)."""
    not_negative("before_mg_per_l", before_mg_per_l)
    not_negative("rate_per_day", rate_per_day)
    not_negative("days", days)
    return before_mg_per_l * math.exp(-rate_per_day * days)
