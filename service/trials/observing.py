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
from service.lots.queries import lots_in_tub
from service.photos.actions import add_photos
from service.photos.rules import MOST_OF_ONE_OBSERVATION as MOST
from service.trials import queries
from service.trials import rules_observation as rules
from service.trials.models import Trial, TrialObservation
from service.trials.queries import Layout
from service.trials.rules import Stage, schedule_days
from service.trials.rules_blind import could_know
from service.trials.rules_known import living

TOLD = ("counts", "conditions", "hatches", "dummies", "photos")


def lock_trial(session: Session, trial_id: str, *, act: Act | None = None) -> tuple[Trial, Layout]:
    """A trial with its lots and their water locked (lots first, as everywhere); raises NotFound."""
    queries.trial_by_id(session, trial_id)
    layout = queries.layout_of(session, trial_id)
    tubs = [tub.tub_id for tub in layout.tubs]
    lock_water_group(session, layout.lot_ids, tubs, since=act.at if act else None)
    return queries.trial_by_id(session, trial_id, lock=True), layout


def observe(
    session: Session,
    act: Act,
    found: tuple[Trial, Layout],
    facts: Mapping[str, Any],
    *,
    reads_arms: bool,
) -> TrialObservation:
    """Enter a look at a locked trial; what was found alive is found in its lots as well.

    `reads_arms`: the observer is known to read the arms of blind trials.

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
        could_know=_could_know(session, act, found, facts["observer"], reads_arms=reads_arms),
        note=facts["note"],
        told=plain({name: facts[name] for name in TOLD}),
        inspections=looks,
    )
    session.add(observation)
    session.flush()
    kept = add_photos(session, act, observation.id, facts["photos"], most=MOST, strict=False)
    after = {"observation_id": observation.id, "day": day, "counts": len(facts["counts"]), "photos": kept}
    record(session, act, "trial.observed", [trial], after=after)
    return observation


def _could_know(
    session: Session, act: Act, found: tuple[Trial, Layout], observer: str, *, reads_arms: bool
) -> str | None:
    trial, layout = found
    if not trial.blind:
        return None
    return could_know(observer, reads_arms=reads_arms, treated_by=queries.hands(session, layout, act.at))


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
    """The observation as looks at its tubs: the lots of a tub share its water, and so what is found in it."""
    tub_of = {tub.label: tub.tub_id for tub in layout.tubs}
    tub_of |= {unit.label: layout.tub_of(unit).tub_id for unit in layout.units}
    units: dict[str, set[str]] = {tub.tub_id: set() for tub in layout.tubs}
    finds: dict[str, dict[tuple[str, str], list[int]]] = defaultdict(dict)
    for row in (*facts["counts"], *facts["conditions"]):
        units[tub_of[row["label"]]].add(row["label"])
    for count in facts["counts"]:
        live, dead = _counted(count)
        sums = finds[tub_of[count["label"]]].setdefault((count["pest"], count["stage"]), [0, 0])
        sums[0], sums[1] = sums[0] + live, sums[1] + dead
    left = {tub_id: sum(lot.left for lot in lots_in_tub(session, tub_id)) for tub_id in units}
    return [
        _look(tub_id, min(len(labels), left[tub_id]), finds[tub_id], facts)
        for tub_id, labels in sorted(units.items())
        if labels and left[tub_id]
    ]


def _look(
    tub_id: str,
    units: int,
    found: Mapping[tuple[str, str], Sequence[int]],
    facts: Mapping[str, Any],
) -> dict[str, Any]:
    return {
        "lot_id": None,
        "tub_id": tub_id,
        "method": "eyes",
        "sample_size": units,
        "sample_unit": "unit",
        "strata": [],
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
        return living(count) + count["laid"], int(count["white"])
    return int(count["live"]), int(count["dead"])


def _refuse(reasons: Sequence[Reason]) -> None:
    if reasons:
        raise Invalid(reasons[0].code, reasons[0].detail, reasons)
