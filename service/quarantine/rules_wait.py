"""What a lot waits for under a policy: which pests, how long, and which looks it owes."""

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal
from typing import Any

from service.catalogue.rules import development as development  # noqa: PLC0414  # offered on
from service.quarantine.rules_looks import LookPlan
from service.quarantine.rules_release import Awaited, Born, Wait
from service.reference.detection import Detection
from service.reference.policies import Policy
from service.science.credit import Spell
from service.science.development import SNAIL_VISIBILITY, Development

UNCOUNTED_UNITS = frozenset({"portion", "mat"})
MOSS = "moss_fine"
SNAIL_LIMITS = {"optimum_c": SNAIL_VISIBILITY.optimum_c, "maximum_c": SNAIL_VISIBILITY.maximum_c}


@dataclass(frozen=True)
class PlantFacts:
    """How a lot's plants are looked through, what their units are, and how they were grown."""

    look_class: str
    unit_of_sale: str
    kept_in_wool: bool
    outdoor: bool
    opened_cups: bool = False  # they came sealed, from a supplier who grows in vitro


Findings = Sequence[tuple[str, str, int]]  # pest, stage, how many live
Pests = Mapping[str, Mapping[str, Any]]  # the documents of the catalogue by code


def wait(
    policy: Policy,
    pests: Pests,
    plant: PlantFacts,
    findings: Findings,
    half_credit: Sequence[Spell],
    *,
    treated: bool,
    detection: Detection,
) -> Wait:
    """What a lot waits for.

    Pests of the policy's scope and those that were found, as far as their eggs are waited for; longer when no
    kill is credited or living eggs were seen; longer for plants grown outdoors.
    """
    eggs_seen = any(stage == "egg" and live > 0 for _, stage, live in findings)
    hatch = policy.hatch
    return Wait(
        awaited=awaited(policy.scope.pests, pests, findings),
        factor=hatch.factor_treated if treated and not eggs_seen else hatch.factor_untreated,
        floor=timedelta(days=policy.floor.outdoor_days if plant.outdoor else policy.floor.days),
        looks=look_plan(policy, plant, detection),
        coverage=policy.temperature_log.coverage,
        longest_gap_h=policy.temperature_log.longest_gap_h,
        half_credit=half_credit,
        born=born(policy.scope.pests, pests, findings),
        night_baits=max(
            (pests[code].get("night_baits", 0) for code in _codes(policy.scope.pests, pests, findings)),
            default=0,
        ),
    )


def awaited(scope: Sequence[str], pests: Pests, findings: Findings) -> tuple[Awaited, ...]:
    """The pests whose eggs are waited for; none for live-bearers, hydra, nymphs, and regulated ones."""
    documents = [(code, pests[code]) for code in _codes(scope, pests, findings)]
    return tuple(
        Awaited(code, development(code, document["development"]), visibility_of(code, document))
        for code, document in documents
        if document["hatch_gate"] and document["development"]
    )


def born(scope: Sequence[str], pests: Pests, findings: Findings) -> tuple[Born, ...]:
    """The live-bearers that come out by night: their young are waited for until they can be seen."""
    return tuple(
        Born(code, visibility_of(code, pests[code]))
        for code in _codes(scope, pests, findings)
        if pests[code].get("night_baits", 0)
    )


def _codes(scope: Sequence[str], pests: Pests, findings: Findings) -> list[str]:
    codes = dict.fromkeys([*scope, *(pest for pest, _, _ in findings)])
    return [code for code in codes if code in pests]


def look_plan(policy: Policy, plant: PlantFacts, detection: Detection) -> LookPlan:
    """The looks a lot owes; wool hides as moss does; what cannot be counted is strained and baited."""
    moss = plant.look_class == MOSS
    return LookPlan(
        every_unit_up_to=policy.sampling.every_unit_up_to,
        detection_level=Decimal(str(policy.sampling.detection_level)),
        confidence=Decimal(str(policy.sampling.confidence)),
        sensitivity=sensitivity(policy, plant, detection),
        water_counts=moss or plant.unit_of_sale in UNCOUNTED_UNITS,
        looks=policy.looks.clean_looks,
        apart=timedelta(days=policy.looks.apart_days),
        again_after=timedelta(days=policy.looks.again_after_days),
    )


def hardest(look_classes: Sequence[str], detection: Detection) -> str:
    """Of the kinds of plant in a lot, the one that eyes find least on, over all pests and stages."""

    def seen(look_class: str) -> float:
        return math.fsum(row.eyes[look_class] for row in detection.rows)  # type: ignore[index]  # a look class by the check of the plant's table

    return min(look_classes, key=seen)


def sensitivity(policy: Policy, plant: PlantFacts, detection: Detection) -> float:
    """The chance that eyes find a juvenile on such a plant, the least of the policy's pests."""
    look_class = detection.kept_in_wool if plant.kept_in_wool else plant.look_class
    rows = [detection.row(pest, "juvenile") for pest in policy.scope.pests]
    known = [row.eyes[look_class] for row in rows if row is not None and look_class in row.eyes]  # type: ignore[index]  # a look class by the check of the plant's table
    return min(known, default=policy.sampling.eyes_sensitivity)


def visibility_of(code: str, document: Mapping[str, Any]) -> Development | timedelta:
    """The growth, or plain time, from hatching until a person sees the young."""
    figures = document["visibility"]
    if figures["days"] is not None:
        return timedelta(days=figures["days"])
    eggs = document["development"]  # live-bearers have none; their young grow as snails do
    limits = eggs["limits"] if eggs else SNAIL_LIMITS
    threshold, needed, optimum = figures["threshold_c"], figures["degree_days"], limits["optimum_c"]
    return Development(
        code=f"{code} visible",
        lower_threshold_c=threshold,
        thermal_constant_dd=needed,
        anchor_days=needed / (optimum - threshold),
        anchor_c=optimum,
        lower_threshold_range=None,
        optimum_c=optimum,
        maximum_c=limits["maximum_c"],
    )
