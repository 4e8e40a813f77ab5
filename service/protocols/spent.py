"""What makes a spent bath harmless: the agent, its grams, the safety in them, and the test afterwards."""

from collections.abc import Mapping
from typing import Any

from service.protocols import measures
from service.science import neutralising
from service.science.neutralising import UnsafeNeutraliser

NEEDS_BICARBONATE: neutralising.Agent = "sodium_thiosulfate_pentahydrate"


def neutraliser(content: Mapping[str, Any], water_volume_l: float) -> dict[str, Any] | None:
    """The neutraliser of the spent bath by the strength aimed at; None when the protocol names none.

    Chlorine by the rules of `science.neutralising`; others by their mass per mass of the substance.
    """
    named, target = content.get("neutraliser"), content.get("target")
    if named is None or target is None:
        return None
    mg_per_l = float(target["value"])
    spent_mg = mg_per_l * water_volume_l
    shown = {
        "material": named["material"],
        "agent": named.get("agent"),
        "purpose": named["purpose"],
        "note": named["note"],
        "test": "Mix, wait 5 minutes, test, add more if needed.",
        "with": None,
    }
    if target["substance"] == "chlorine":
        return shown | _for_chlorine(named, mg_per_l, water_volume_l)
    grams = spent_mg / 1000 * (named.get("mg_per_mg") or 0.0)
    return shown | {
        "amount": measures.amount(grams, "g"),
        "safety_factor": 1.0,
        "safety": "By stoichiometry.",
    }


def _for_chlorine(named: Mapping[str, Any], mg_per_l: float, volume_l: float) -> dict[str, Any]:
    agent: neutralising.Agent = named.get("agent") or NEEDS_BICARBONATE
    try:
        grams = neutralising.neutraliser_g(agent, mg_per_l, volume_l, "disposal")
    except UnsafeNeutraliser as refusal:
        return {"amount": None, "safety_factor": None, "safety": str(refusal)}
    shown: dict[str, Any] = {
        "amount": measures.amount(grams, "g"),
        "safety_factor": 1.1,
        "safety": "By stoichiometry x 1.1.",
    }
    if agent != NEEDS_BICARBONATE:
        return shown
    if mg_per_l <= neutralising.WEAK_MG_PER_L:
        return shown | {"safety_factor": 1.0, "safety": "7.0 g per g of chlorine, the most that sources ask."}
    shown["safety"] = "3.5 g per g of chlorine x 1.1."
    bicarbonate = neutralising.bicarbonate_g(mg_per_l * volume_l / 1000)
    shown["with"] = {
        "material": named.get("with_material") or "sodium-bicarbonate",
        "amount": measures.amount(bicarbonate, "g"),
    }
    return shown
