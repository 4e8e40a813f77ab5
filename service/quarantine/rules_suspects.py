"""Which pests may be in a lot, and how many: from its own finds, else from the supplier's record."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from service.inspections.rules import Find, Look
from service.quarantine.rules_freedom import Animals, Eggs, Seen, Sight, Suspect
from service.quarantine.rules_prior import IN_VITRO_BETA, Record, prior_of
from service.quarantine.rules_wait import PlantFacts, development, visibility_of
from service.reference.detection import Detection
from service.reference.policies import Policy
from service.science import freedom

EGG = "egg"
STAGES = (
    "juvenile",
    "adult",
    "hatchling",
)  # the stage animals are looked for in, the least easy to see first
MASSES_PER_ANIMAL = 1.0  # egg masses expected for every animal that was there, assumed
SEALED = "sealed_cup"  # a look through a lid says nothing once the cups are open
LEAST_CAUGHT = 0.05  # a look that hardly sees a stage says no more than this about it, assumed

KillSince = Callable[[str, str, datetime | None], float]  # pest, stage, of treatments begun since (None: all)


@dataclass(frozen=True)
class Case:
    """What one lot is judged by."""

    plant: PlantFacts
    received_at: datetime
    looks: Sequence[Look]
    kill_since: KillSince
    records: Mapping[str, Record]


def suspects(policy: Policy, pests: Mapping[str, Any], detection: Detection, case: Case) -> list[Suspect]:
    """Pests of the policy's scope, those found in the lot, and those its supplier ever sent.

    Harmless animals and notifiable pests (which lock a lot) are left out.
    """
    sent = [pest for pest, record in case.records.items() if record.infested > 0]
    found = [find.pest for look in case.looks for find in look.findings if find.live > 0]
    codes = dict.fromkeys([*policy.scope.pests, *found, *sent])
    asked = [code for code in codes if code in pests and _is_suspect(pests[code])]
    made = (_suspect(code, pests[code], policy, detection, case) for code in asked)
    return [suspect for suspect in made if suspect is not None]


def seen(looks: Sequence[Look]) -> list[Seen]:
    """Clean looks as the calculation takes them; eyes on an unknown share of the plants prove nothing."""
    return [
        Seen(look.at, _way(look.method), _share(look))
        for look in looks
        if look.clean and look.method != SEALED
    ]


def arrival_record(arrivals: Sequence[tuple[str, Look]], pest: str, detection: Detection) -> Record:
    """The record of a supplier from (look class, first look) of each lot that came untreated.

    A look that found the pest stands for 1/sensitivity lots, as many as there are at most.
    """
    infested = 0.0
    for look_class, look in arrivals:
        if any(find.pest == pest and find.live > 0 for find in look.findings):
            sight = _animal_sight(pest, look_class, detection)
            caught = 1.0 if sight is None else 1 - _miss(look, sight)
            infested += 1 / caught if caught > 0 else 1.0
    infested = min(infested, float(len(arrivals)))
    return Record(infested, len(arrivals) - infested)


def _is_suspect(document: Mapping[str, Any]) -> bool:
    return bool(document["resets_clock"]) and document["regulated"] != "notifiable"


def _suspect(
    code: str, document: Mapping[str, Any], policy: Policy, detection: Detection, case: Case
) -> Suspect | None:
    look_class = detection.kept_in_wool if case.plant.kept_in_wool else case.plant.look_class
    sight = _animal_sight(code, look_class, detection)
    if sight is None:
        return None
    animals, masses, since = _expected(code, policy, detection, look_class, case)
    eggs = None
    if document["hatch_gate"] and document["development"]:
        stages = (EGG, "hatchling", "juvenile")
        sights = [_sight(code, stage, look_class, detection) or sight for stage in stages]
        eggs = Eggs(
            masses,
            development(code, document["development"]),
            visibility_of(code, document),
            (sights[0], sights[1], sights[2]),
        )
    return Suspect(code, Animals(animals, since, sight), eggs)


def _expected(
    code: str, policy: Policy, detection: Detection, look_class: str, case: Case
) -> tuple[float, float, datetime]:
    """Animals and egg masses expected, and since when."""
    last = max((look for look in case.looks if _finds(look, code)), key=lambda look: look.at, default=None)
    if last is None:
        record = case.records.get(code, Record(0, 0))
        beta = max(policy.freedom.prior_beta, IN_VITRO_BETA if case.plant.opened_cups else 0)
        lots = prior_of(policy.freedom.prior_alpha, beta, record).expected_units
        kills = [_animal_kill(case, code, None), case.kill_since(code, EGG, None)]
        return lots * (1 - kills[0]), lots * (1 - kills[1]), case.received_at
    animals = _after_find(last, code, detection, look_class, eggs=False)
    masses = _after_find(last, code, detection, look_class, eggs=True)
    there = sum(find.live for find in _finds(last, code) if find.stage != EGG)
    masses += MASSES_PER_ANIMAL * there
    kills = [_animal_kill(case, code, last.at), case.kill_since(code, EGG, last.at)]
    return animals * (1 - kills[0]), masses * (1 - kills[1]), last.at


def _after_find(look: Look, code: str, detection: Detection, look_class: str, *, eggs: bool) -> float:
    """Units of one kind that are still there after a look that found the pest, in whatever stage."""
    finds = [find for find in _finds(look, code) if (find.stage == EGG) == eggs]
    sight = _sight(code, EGG, look_class, detection) if eggs else _animal_sight(code, look_class, detection)
    if sight is None:
        return float(sum(find.live for find in finds if not find.removed))
    caught = 1 - _miss(look, sight)
    return freedom.expected_after_find(
        sum(find.live for find in finds if not find.removed),
        sum(find.live for find in finds if find.removed),
        max(caught, LEAST_CAUGHT),
    )


def _animal_kill(case: Case, code: str, since: datetime | None) -> float:
    return min(case.kill_since(code, stage, since) for stage in ("juvenile", "adult"))


def _finds(look: Look, code: str) -> list[Find]:
    return [find for find in look.findings if find.pest == code and find.live > 0]


def _animal_sight(code: str, look_class: str, detection: Detection) -> Sight | None:
    found = (_sight(code, stage, look_class, detection) for stage in STAGES)
    return next((sight for sight in found if sight is not None), None)


def _sight(code: str, stage: str, look_class: str, detection: Detection) -> Sight | None:
    row = detection.row(code, stage)
    if row is None:
        return None
    eyes = row.eyes[look_class]  # type: ignore[index]  # a look class by the check of the plant's table
    return Sight(eyes, row.strain, row.bait, row.never_seen_share)


def _miss(look: Look, sight: Sight) -> float:
    way = _way(look.method)
    return freedom.missed_by_look(_share(look), **{way: getattr(sight, way)})


def _way(method: str) -> Any:
    return "bait" if method == "bait_night" else method


def _share(look: Look) -> float:
    if look.full:
        return 1.0
    return min(1.0, look.sample_size / look.lot_size) if look.lot_size else 0.0
