"""Hypochlorite bleach: what a label means, what ageing leaves of it, what neutralises it."""

import math
from collections.abc import Mapping, Sequence
from types import MappingProxyType
from typing import Literal

from service.science.domain import not_negative, positive, within

Basis = Literal["naocl_ww", "naocl_wv", "avail_cl_ww", "trade"]
Purpose = Literal["rinse", "disposal"]
Agent = Literal[
    "sodium_thiosulfate_pentahydrate",
    "sodium_ascorbate",
    "sodium_sulfite",
    "ascorbic_acid",
    "sodium_bisulfite",
]

CHLORINE_G_PER_MOL = 70.906
CHLORINE_PER_HYPOCHLORITE = 70.906 / 74.442
DENSITY_SLOPE = 0.0133  # fresh bleach at 20 °C, our fit through 120 g/L at 1.160 g/mL; ±1 %
STRONGEST_PERCENT = 20.0

GAS_CONSTANT = 8.314
KELVIN = 273.15
SECONDS_PER_DAY = 86400

WEAK_MG_PER_L = 100.0  # above it agents that add acid set chlorine free
STRONGEST_TO_NEUTRALISE_MG_PER_L = 5000.0  # above it the heat is too much
BICARBONATE_G_PER_G = 0.592
THIOSULFATE_SURE = 7.0  # mol for mol the weakest of its reactions, to tetrathionate
THIOSULFATE_SPENT_DIP = 3.5 * 1.1
ADDS_ACID = frozenset({"ascorbic_acid", "sodium_bisulfite"})
# Grams per gram of chlorine by stoichiometry, times a safety of 1.1.
OTHER_AGENTS: Mapping[str, float] = MappingProxyType(
    {
        "sodium_ascorbate": 2.794 * 1.1,
        "sodium_sulfite": 1.778 * 1.1,
        "ascorbic_acid": 2.484 * 1.1,
        "sodium_bisulfite": 1.468 * 1.1,
    }
)


class OutsideValidity(ValueError):
    """The ageing model says nothing here: test the strength."""


class UnsafeNeutraliser(ValueError):
    """This agent at this strength gives off gas or too much heat."""


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
    return 10 * chlorine_percent / (1 - DENSITY_SLOPE * chlorine_percent)


def hypochlorite_remaining(g_per_l_at_filling: float, segments: Sequence[tuple[float, float]]) -> float:
    """Share of the strength at filling that is left after `segments` of (days, celsius) in the store.

    Second order, 1/C = 1/C0 + sum k2(T) t, with the Gordon-Adam rate (Snyder et al., AWWA 2009; coefficients
    from memory, checked against a handbook table of half-lives). For 2.5-16 trade %, 10-60 °C, closed and
    dark, and no more than half lost; OutsideValidity otherwise. Claimed ±10 % up to 35 °C and 30 % loss.
    """
    positive("g_per_l_at_filling", g_per_l_at_filling)
    if not 25 <= g_per_l_at_filling <= 160:
        raise OutsideValidity(
            f"Ageing is known from 25 to 160 g/L of chlorine, not for {g_per_l_at_filling}."
        )
    mol_per_l = g_per_l_at_filling / CHLORINE_G_PER_MOL
    loss = math.fsum(_rate_constant_per_day(mol_per_l, celsius) * days for days, celsius in _known(segments))
    remaining = 1 / (1 + mol_per_l * loss)
    if remaining < 0.5:
        raise OutsideValidity("More than half of the strength is lost by now: test it, or discard it.")
    return remaining


def aged_g_per_l(g_per_l_at_filling: float, segments: Sequence[tuple[float, float]]) -> float:
    """Available chlorine in g/L that is left; `hypochlorite_remaining` says how, and what it refuses."""
    return g_per_l_at_filling * hypochlorite_remaining(g_per_l_at_filling, segments)


def neutraliser_g(agent: Agent, free_chlorine_mg_per_l: float, volume_l: float, purpose: Purpose) -> float:
    """Grams of agent for a volume of chlorinated water, excess included; wait 5 minutes, then test.

    Thiosulfate: 7.0 g per g, for a spent dip above 100 mg/L 3.5 x 1.1 with bicarbonate (`bicarbonate_g`),
    then test. The others by stoichiometry x 1.1. UnsafeNeutraliser: above 5000 mg/L any agent (dilute
    first), above 100 mg/L those that add acid.
    """
    not_negative("free_chlorine_mg_per_l", free_chlorine_mg_per_l)
    positive("volume_l", volume_l)
    _refuse_unsafe(agent, free_chlorine_mg_per_l)
    chlorine_g = free_chlorine_mg_per_l * volume_l / 1000
    if agent != "sodium_thiosulfate_pentahydrate":
        return chlorine_g * OTHER_AGENTS[agent]
    spent_dip = purpose == "disposal" and free_chlorine_mg_per_l > WEAK_MG_PER_L
    return chlorine_g * (THIOSULFATE_SPENT_DIP if spent_dip else THIOSULFATE_SURE)


def bicarbonate_g(chlorine_g: float) -> float:
    """Grams of sodium bicarbonate to go with thiosulfate, for its acid: 2 mol per 4 mol of chlorine."""
    not_negative("chlorine_g", chlorine_g)
    return BICARBONATE_G_PER_G * chlorine_g


def _known(segments: Sequence[tuple[float, float]]) -> Sequence[tuple[float, float]]:
    for days, celsius in segments:
        not_negative("days", days)
        if not 10 <= celsius <= 60:
            raise OutsideValidity(f"Ageing is known from 10 to 60 °C, not at {celsius} °C.")
    return segments


def _rate_constant_per_day(mol_per_l: float, celsius: float) -> float:
    kelvin = celsius + KELVIN
    ionic_strength = 2 * mol_per_l + 0.07
    eyring = 2.083e10 * kelvin * math.exp(-1.018e5 / (GAS_CONSTANT * kelvin)) * math.exp(-56.5 / GAS_CONSTANT)
    return SECONDS_PER_DAY * 10 ** (0.149 * ionic_strength) * eyring


def _refuse_unsafe(agent: Agent, free_chlorine_mg_per_l: float) -> None:
    if free_chlorine_mg_per_l > STRONGEST_TO_NEUTRALISE_MG_PER_L:
        raise UnsafeNeutraliser("Above 5000 mg/L of chlorine neutralising gets too hot: dilute first.")
    if agent in ADDS_ACID and free_chlorine_mg_per_l > WEAK_MG_PER_L:
        raise UnsafeNeutraliser(
            "Above 100 mg/L of chlorine this agent sets chlorine gas free: "
            "use thiosulfate with bicarbonate, sodium ascorbate or sodium sulfite."
        )
