"""The look that the service proposes for a lot: how many units, how long it takes, what it can see."""

from collections.abc import Sequence
from dataclasses import asdict
from datetime import datetime, timedelta
from typing import Any

from service.inspections.rules import is_countable, minutes, units_of
from service.lots.rules_strata import shares
from service.quarantine.evidence import Evidence
from service.quarantine.rules_looks import new_laying_from, proposed, voided
from service.quarantine.rules_schedule import WATER_MINUTES, Course, Nights, schedule
from service.quarantine.rules_wait import PlantFacts
from service.reference.loader import shipped
from service.reference.policies import Policy

STAGES = ("egg", "hatchling", "juvenile", "adult")


def look_plan(known: Evidence, policy: Policy, changes: Sequence[datetime] = ()) -> dict[str, Any]:
    """The next look at a lot by its size, the policy's target, and how well stages are seen on such plants.

    Lots that cannot be counted are strained and baited instead, so they have no sample. `changes` are the
    water changes that the lot lived through.
    """
    lot, plan, plant = known.lot, known.wait.looks, known.plant
    units = units_of(lot.left, lot.unit_of_sale, lot.stems_per_bunch, untied=lot.untied)
    counted = is_countable(lot.unit_of_sale, plant.look_class)
    found = proposed(units, plan) if counted and units else None
    size = None if found is None else found.sample_size
    each = units_of(1, lot.unit_of_sale, lot.stems_per_bunch, untied=lot.untied)
    parts = {} if size is None else shares(lot.strata, size, each)
    if parts and size != units:
        size = sum(parts.values())
    return {
        "lot_size": units,
        "in_words": _in_words(lot.left, lot.unit_of_sale, lot.stems_per_bunch, units),
        "methods": _methods(sealed=lot.sealed_since is not None, counted=counted),
        "sample_size": size,
        "strata": [{"name": name, "look_at": share} for name, share in parts.items()],
        "infested_units_assumed": None if found is None else found.infested_units_assumed,
        "achieved_confidence": None if found is None else found.achieved_confidence,
        "detection_level": float(plan.detection_level),
        "confidence": float(plan.confidence),
        "sensitivity": plan.sensitivity,
        "minutes": minutes(size or units),
        "clean_looks_needed": plan.looks,
        "next_look_at": known.projection.next_look_at,
        **_gap(known, policy),
        "schedule": []
        if lot.sealed_since
        else _schedule(known, changes, counted=counted, units=size or units),
        "sees": _sees(policy, plant),
    }


def _sees(policy: Policy, plant: PlantFacts) -> list[dict[str, Any]]:
    """How well each way to look finds each stage of the policy's pests on such a plant."""
    detection = shipped().detection
    look_class = detection.kept_in_wool if plant.kept_in_wool else plant.look_class
    return [
        {
            "pest": pest,
            "stage": stage,
            "eyes": row.eyes[look_class],  # type: ignore[index]  # a look class by the check of the plant's table
            "strain": row.strain,
            "bait": row.bait,
            "never_seen_share": row.never_seen_share,
        }
        for pest in policy.scope.pests
        for stage in STAGES
        for row in [detection.row(pest, stage)]
        if row is not None
    ]


def _gap(known: Evidence, policy: Policy) -> dict[str, Any]:
    """What a warm gap without a look did, and from when on the next one would begin."""
    longest = timedelta(days=policy.looks.void_after_gap_days)
    made = [look.at for look in known.looks if look.at <= known.judged_at]
    void = voided(made, known.valid, longest)
    return {
        "new_laying_from": new_laying_from(known.valid, longest),
        "void": None if void is None else asdict(void),
    }


def _methods(*, sealed: bool, counted: bool) -> list[str]:
    if sealed:
        return ["sealed_cup"]
    return ["eyes"] if counted else ["strain", "bait"]


def _schedule(
    known: Evidence, changes: Sequence[datetime], *, counted: bool, units: int
) -> list[dict[str, Any]]:
    found, plan, waited = known.projection, known.wait.looks, known.wait.night_baits
    baited = found.nights_made and found.release_at is not None  # before that none counts as the last
    course = Course(
        received_at=known.lot.received_at,
        clock_started_at=found.clock_started_at,
        last_from=found.visible_at,
        next_look_at=found.next_look_at,
        looks_made=found.looks_made,
        looks=plan.looks,
        apart=plan.apart,
        nights=Nights(waited, known.nights, made=baited),
    )
    method, spent = ("eyes", minutes(units)) if counted else ("strain", WATER_MINUTES)
    lines = schedule(course, known.looks, changes, known.counted, method=method, minutes=spent)
    return [asdict(line) for line in lines]


def _in_words(left: int, unit_of_sale: str, stems_per_bunch: int | None, units: int) -> str:
    plural = f"{left} {unit_of_sale}{'' if left == 1 else 'es' if unit_of_sale == 'bunch' else 's'}"
    if unit_of_sale == "bunch" and stems_per_bunch:
        return f"{plural} (about {left * stems_per_bunch} stems{', untied' if units != left else ''})"
    return plural
