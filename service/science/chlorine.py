"""Hypochlorite bleach: what a label means, what ageing leaves of it, how a bottle is tested."""

import math
from collections.abc import Sequence
from typing import Literal

from service.science.domain import OutOfDomain, finite, not_negative, positive, within
from service.science.substances import SUBSTANCES

Basis = Literal["naocl_ww", "naocl_wv", "avail_cl_ww", "trade"]

CHLORINE_G_PER_MOL = SUBSTANCES["chlorine"].g_per_mol
CHLORINE_PER_HYPOCHLORITE = CHLORINE_G_PER_MOL / SUBSTANCES["sodium_hypochlorite"].g_per_mol
DENSITY_SLOPE = 0.0133  # fresh bleach at 20 °C, our fit through 120 g/L at 1.160 g/mL; ±1 %
STRONGEST_PERCENT = 20.0

GAS_CONSTANT = 8.314
KELVIN = 273.15
SECONDS_PER_DAY = 86400
LEAST_LEFT = 0.5  # the ageing model says nothing below it
KEPT_SHARE = 0.8  # a bottle is best used until then; assumption
KEPT_AT_MOST_DAYS = 365.0  # assumption
LOST_PER_CHLORATE = 3.24  # mol; 3 by the main reaction, the rest goes to oxygen (a public water-works model)


class OutsideValidity(OutOfDomain):
    """The ageing model says nothing here: test the strength."""


def available_chlorine_g_per_l(percent: float, basis: Basis) -> float:
    """Available chlorine in g/L (as Cl2) of a labelled bleach.

    `naocl_ww` and `avail_cl_ww` are per cent by mass, `naocl_wv` grams NaOCl in 100 mL, `trade` grams
    chlorine in 100 mL. Definitions after White, Handbook of Chlorination, 1972. OutOfDomain above 20 %.
    """
    positive("percent", percent)
    within("percent", percent, 0, STRONGEST_PERCENT)
    if basis == "trade":
        return 10 * percent
    if basis == "naocl_wv":
        return 10 * percent * CHLORINE_PER_HYPOCHLORITE
    chlorine_percent = percent * CHLORINE_PER_HYPOCHLORITE if basis == "naocl_ww" else percent
    return 10 * chlorine_percent * density_g_per_ml(chlorine_percent)


def density_g_per_ml(available_chlorine_percent: float) -> float:
    """Density of fresh bleach at 20 °C by its available chlorine in per cent by mass; ±1 %, by its lye."""
    within("available_chlorine_percent", available_chlorine_percent, 0, STRONGEST_PERCENT)
    return 1 / (1 - DENSITY_SLOPE * available_chlorine_percent)


def available_chlorine_percent(g_per_l: float) -> float:
    """Available chlorine in per cent by mass of a strength in g/L; the way back from `avail_cl_ww`."""
    positive("g_per_l", g_per_l)
    return g_per_l / (10 + DENSITY_SLOPE * g_per_l)


def hypochlorite_remaining(g_per_l_at_filling: float, segments: Sequence[tuple[float, float]]) -> float:
    """Share of the strength at filling that is left after `segments` of (days, celsius) in the store.

    Second order, 1/C = 1/C0 + sum k2(T) t, with the Gordon-Adam rate (Snyder et al., AWWA 2009; coefficients
    from memory, checked against a handbook table of half-lives). For 2.5-16 trade %, 10-60 °C, closed and
    dark, and no more than half lost; OutsideValidity otherwise. Claimed ±10 % up to 35 °C and 30 % loss.
    """
    mol_per_l = _known_strength(g_per_l_at_filling)
    loss = math.fsum(_rate_constant_per_day(mol_per_l, celsius) * days for days, celsius in _known(segments))
    remaining = 1 / (1 + mol_per_l * loss)
    if remaining < LEAST_LEFT:
        raise OutsideValidity(
            "segments", "More than half of the strength is lost by now: test it, or discard it."
        )
    return remaining


def aged_g_per_l(g_per_l_at_filling: float, segments: Sequence[tuple[float, float]]) -> float:
    """Available chlorine in g/L that is left; `hypochlorite_remaining` says how, and what it refuses."""
    return g_per_l_at_filling * hypochlorite_remaining(g_per_l_at_filling, segments)


def days_until_left(share_left: float, g_per_l_at_filling: float, celsius: float) -> float:
    """Days at one temperature until this share of the strength is left: (1/f - 1) / (k2 C0).

    With 0.5 it is the half-life. OutOfDomain for a share below 0.5 or above 1; OutsideValidity as
    `hypochlorite_remaining`.
    """
    within("share_left", share_left, LEAST_LEFT, 1)
    mol_per_l = _known_strength(g_per_l_at_filling)
    rate_per_day = _rate_constant_per_day(mol_per_l, _known_celsius(celsius))
    return (1 / share_left - 1) / (rate_per_day * mol_per_l)


def keeps_days(g_per_l_at_filling: float, celsius: float) -> float:
    """Days from filling that a bottle is best used within: until 80 % is left, a year at most; assumption."""
    return min(KEPT_AT_MOST_DAYS, days_until_left(KEPT_SHARE, g_per_l_at_filling, celsius))


def chlorate_g_per_l(g_per_l_at_filling: float, share_left: float) -> float:
    """Chlorate in g/L that ageing has made: a mole for each 3.24 of hypochlorite lost. It harms plants."""
    positive("g_per_l_at_filling", g_per_l_at_filling)
    within("share_left", share_left, 0, 1)
    lost_mol_per_l = (1 - share_left) * g_per_l_at_filling / CHLORINE_G_PER_MOL
    return lost_mol_per_l / LOST_PER_CHLORATE * SUBSTANCES["chlorate"].g_per_mol


def strip_strength_g_per_l(reading_mg_per_l: float, bleach_ml: float = 1.0, water_l: float = 1.0) -> float:
    """Strength of a bottle in g/L by the reading of a strip in a little of it, added to chlorine-free water.

    1 mL in 1 L: the reading in mg/L is the strength in g/L, within 0.1 %. A strip's own step is ±20 %.
    """
    not_negative("reading_mg_per_l", reading_mg_per_l)
    positive("bleach_ml", bleach_ml)
    positive("water_l", water_l)
    return reading_mg_per_l * (water_l + bleach_ml / 1000) / bleach_ml


def _known_strength(g_per_l: float) -> float:
    """The strength in mol/L."""
    positive("g_per_l_at_filling", g_per_l)
    if not 25 <= g_per_l <= 160:
        detail = f"Ageing is known from 25 to 160 g/L of chlorine, not for {g_per_l}."
        raise OutsideValidity("g_per_l_at_filling", detail)
    return g_per_l / CHLORINE_G_PER_MOL


def _known(segments: Sequence[tuple[float, float]]) -> Sequence[tuple[float, float]]:
    for days, celsius in segments:
        not_negative("days", days)
        _known_celsius(celsius)
    return segments


def _known_celsius(celsius: float) -> float:
    finite("celsius", celsius)
    if not 10 <= celsius <= 60:
        raise OutsideValidity("celsius", f"Ageing is known from 10 to 60 °C, not at {celsius} °C.")
    return celsius


def _rate_constant_per_day(mol_per_l: float, celsius: float) -> float:
    kelvin = celsius + KELVIN
    ionic_strength = 2 * mol_per_l + 0.07
    eyring = 2.083e10 * kelvin * math.exp(-1.018e5 / (GAS_CONSTANT * kelvin)) * math.exp(-56.5 / GAS_CONSTANT)
    return SECONDS_PER_DAY * 10 ** (0.149 * ionic_strength) * eyring
