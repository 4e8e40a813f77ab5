"""Looking at a trial: counts and conditions as facts, and each look also as a look at its lots."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy.orm import Session

from service.catalogue.queries import pest_figures
from service.core.errors import Invalid, Refused
from service.core.reasons import Reason
from service.inspections.actions import record_look
from service.inspections.voiding import void_look
from service.journal.actions import record
from service.journal.acts import Act
from service.journal.rules import plain
from service.lots.actions import lock_water_group
from service.lots.queries import lot_by_id
from service.lots.rules import ENDED
from service.trials import queries
from service.trials import rules_observation as rules
from service.trials.models import Trial, TrialObservation
from service.trials.queries import Layout
from service.trials.rules import Stage, schedule_days

TOLD = ("counts", "conditions", "hatches", "dummies", "photos")


def lock_trial(session: Session, trial_id: str, *, act: Act | None = None) -> tuple[Trial, Layout]:
    """A trial with its lots and their water locked (lots first, as everywhere); raises NotFound."""
    queries.trial_by_id(session, trial_id)
    layout = queries.layout_of(session, trial_id)
    tubs = [tub.tub_id for tub in layout.tubs]
    lock_water_group(session, layout.lot_ids, tubs, since=act.at if act else None)
    return queries.trial_by_id(session, trial_id, lock=True), layout


def observe(
    session: Session, act: Act, found: tuple[Trial, Layout], facts: Mapping[str, Any]
) -> TrialObservation:
    """Enter a look at a locked trial; what was found alive is found in its lots as well.

    Raises Refused when the trial is closed, Invalid naming what can't be; then nothing is kept.
    """
    trial, layout = found
    refuse_closed(trial)
    places = queries.places_of(session, layout)
    day, plan = facts["day"], rules.Plan(trial.starts_at, schedule_days(trial.days))
    _refuse(rules.time_reasons(day, act.at, plan, places, facts))
    known = queries.known_of(queries.observations_of(session, trial.id))
    _refuse(rules.observation_reasons(day, facts, places, pest_figures(session), known))
    looks = [record_look(session, act, look).id for look in _looks(session, layout, facts)]
    observation = TrialObservation(
        trial_id=trial.id,
        day=day,
        at=act.at,
        recorded_at=act.now,
        by=act.by,
        observer=facts["observer"],
        note=facts["note"],
        told=plain({name: facts[name] for name in TOLD}),
        inspections=looks,
    )
    session.add(observation)
    session.flush()
    after = {"observation_id": observation.id, "day": day, "counts": len(facts["counts"])}
    record(session, act, "trial.observed", [trial], after=after)
    return observation


def void_observation(
    session: Session, act: Act, trial: Trial, observation: TrialObservation, reason: str
) -> None:
    """Void an observation of a locked trial that was wrong, and the looks written with it."""
    refuse_closed(trial)
    if observation.voided_at is not None:
        raise Refused("voided-already", "This observation is void already.")
    for inspection_id in observation.inspections:
        void_look(session, act, inspection_id, reason)
    observation.voided_at, observation.voided_by, observation.void_reason = act.at, act.by, reason
    after = {"observation_id": observation.id, "day": observation.day, "reason": reason}
    record(session, act, "trial.observation_voided", [trial], after=after)


def refuse_closed(trial: Trial) -> None:
    """Raise Refused when a trial is closed: what it says does not change any more."""
    if trial.closed_at is not None:
        detail = f"Trial {trial.name} was closed {trial.closed_at.isoformat()}; plan another one."
        raise Refused("trial-closed", detail, current_state="closed")


def _looks(session: Session, layout: Layout, facts: Mapping[str, Any]) -> list[dict[str, Any]]:
    """The observation as looks: one at each lot whose units were looked at, one at each tub that was."""
    lot_of = {unit.label: unit.lot_id for unit in layout.units}
    tub_of = {tub.label: tub.tub_id for tub in layout.tubs}
    labels: dict[str, set[str]] = defaultdict(set)
    finds: dict[str, dict[tuple[str, str], list[int]]] = defaultdict(dict)
    for row in (*facts["counts"], *facts["conditions"]):
        place = lot_of.get(row["label"]) or tub_of[row["label"]]
        labels[place].add(row["label"])
    for count in facts["counts"]:
        place = lot_of.get(count["label"]) or tub_of[count["label"]]
        live, dead = _counted(count)
        sums = finds[place].setdefault((count["pest"], count["stage"]), [0, 0])
        sums[0], sums[1] = sums[0] + live, sums[1] + dead
    tubs = set(tub_of.values())
    ended = {place for place in labels if place not in tubs and lot_by_id(session, place).state in ENDED}
    return [
        _look(place, None if place in tubs else len(labels[place]), finds[place], facts)
        for place in sorted(labels.keys() - ended)
    ]


def _look(
    place: str,
    units: int | None,
    found: Mapping[tuple[str, str], Sequence[int]],
    facts: Mapping[str, Any],
) -> dict[str, Any]:
    return {
        "lot_id": None if units is None else place,
        "tub_id": place if units is None else None,
        "method": "eyes",
        "sample_size": units,
        "sample_unit": "unit",
        "findings": [
            {"pest": pest, "stage": stage, "live": live, "dead": dead, "removed": False}
            for (pest, stage), (live, dead) in sorted(found.items())
            if live or dead
        ],
        "inspector": facts["observer"],
        "note": f"Trial, day {facts['day']}",
    }


def _counted(count: Mapping[str, Any]) -> tuple[int, int]:
    if count["stage"] == Stage.EGG:
        return rules.living(count) + count["laid"], int(count["white"])
    return int(count["live"]), int(count["dead"])


def _refuse(reasons: Sequence[Reason]) -> None:
    if reasons:
        raise Invalid(reasons[0].code, reasons[0].detail, reasons)
