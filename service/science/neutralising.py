"""What takes chlorine away: agents, their amounts and dangers, heat, rinsing, what chloramine leaves."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal

from service.science.domain import OutOfDomain, not_negative, positive
from service.science.substances import ATOMIC_G_PER_MOL, SUBSTANCES, Figure, grams_per_gram

Purpose = Literal["rinse", "disposal"]
Agent = Literal[
    "sodium_thiosulfate_pentahydrate",
    "sodium_ascorbate",
    "sodium_sulfite",
    "ascorbic_acid",
    "sodium_bisulfite",
]

WEAK_MG_PER_L = 100.0  # above it agents that add acid set chlorine free
STRONGEST_TO_NEUTRALISE_MG_PER_L = 5000.0  # above it the heat is too much
ACCEPTED_MG_PER_L = 0.1  # total chlorine; the smallest step of common strips
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
HEAT = Figure(308.1, "kJ/mol", "From enthalpies of formation of the ions, recalled", "memory")
WATER_KJ_PER_L_K = 4.184


class UnsafeNeutraliser(OutOfDomain):
    """This agent at this strength gives off gas or too much heat."""


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


def stoichiometric_g_per_g(agent: str, chlorine_mol_per_mol: float = 1.0) -> float:
    """Grams of an agent per gram of chlorine when a mole of it takes so many moles of chlorine, no excess.

    Thiosulfate takes 4 (to sulfate), 1 (sulfate and sulfur) or 0.5 (to tetrathionate) by pH and excess,
    metabisulfite 2, the others 1. OutOfDomain for a substance not on record.
    """
    positive("chlorine_mol_per_mol", chlorine_mol_per_mol)
    return grams_per_gram(agent, "chlorine", 1 / chlorine_mol_per_mol)


def heating_k(free_chlorine_mg_per_l: float) -> float:
    """Kelvins by which thiosulfate heats the water when it takes up all the chlorine (to sulfate).

    About 1 K for each g/L: 3 K in a dip, 90 K in neat bleach, which boils.
    """
    not_negative("free_chlorine_mg_per_l", free_chlorine_mg_per_l)
    return free_chlorine_mg_per_l / 1000 / SUBSTANCES["chlorine"].g_per_mol * HEAT.value / WATER_KJ_PER_L_K


def chlorine_taken_mg(stock_ml: float, thiosulfate_g_per_l: float = 100.0) -> float:
    """Chlorine in mg that a stock of thiosulfate pentahydrate takes up for sure (7 g per g)."""
    not_negative("stock_ml", stock_ml)
    positive("thiosulfate_g_per_l", thiosulfate_g_per_l)
    return stock_ml * thiosulfate_g_per_l / THIOSULFATE_SURE


def surely_taken(agent: Agent, mass: float) -> float:
    """The mass of chlorine that a mass of an agent takes up whatever reaction runs, in the same unit.

    Of thiosulfate a seventh; of the others by stoichiometry, the tenth in excess counted as not used up.
    """
    not_negative("mass", mass)
    return mass / neutraliser_g(agent, 1.0, 1000.0, "rinse")


def chloramine_nitrogen_mg_per_l(total_chlorine_mg_per_l: float) -> float:
    """Nitrogen in mg/L that neutralising sets free as ammonia when the water is chloraminated (NH2Cl).

    One mole of nitrogen to one of chlorine: 1 mg for each 5.06 mg of total chlorine.
    """
    not_negative("total_chlorine_mg_per_l", total_chlorine_mg_per_l)
    return total_chlorine_mg_per_l * ATOMIC_G_PER_MOL["N"] / SUBSTANCES["chlorine"].g_per_mol


def _refuse_unsafe(agent: Agent, free_chlorine_mg_per_l: float) -> None:
    if free_chlorine_mg_per_l > STRONGEST_TO_NEUTRALISE_MG_PER_L:
        detail = "Above 5000 mg/L of chlorine neutralising gets too hot: dilute first."
        raise UnsafeNeutraliser("free_chlorine_mg_per_l", detail)
    if agent in ADDS_ACID and free_chlorine_mg_per_l > WEAK_MG_PER_L:
        raise UnsafeNeutraliser(
            "agent",
            "Above 100 mg/L of chlorine this agent sets chlorine gas free: "
            "use thiosulfate with bicarbonate, sodium ascorbate or sodium sulfite.",
        )
