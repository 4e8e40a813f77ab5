"""Everything that a trial's result rests on, gathered from facts; the rules say what it means."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.catalogue.queries import pest_figures
from service.catalogue.rules import development
from service.core.reasons import Reason
from service.lots.models import Contact
from service.protocols.queries import version_by_id
from service.science.curve import curve
from service.science.development import Development, Reading
from service.stores.models import StockBatch, StockEntry
from service.trials import (
    hatch_dates,
    queries,
    rules_blind,
    rules_hatch,
    rules_methods,
    rules_plants,
    rules_result,
    rules_verdict,
    views,
)
from service.trials.hatch_dates import FLANK
from service.trials.models import Trial, TrialObservation, TrialTub
from service.trials.queries import Layout
from service.trials.rules import DAY, Stage, When
from service.trials.rules_development import Fitted
from service.trials.rules_hatch import Eye, HatchPoint, Warmth
from service.trials.rules_known import Known
from service.trials.rules_methods import Method
from service.trials.rules_plants import Plants, Survived
from service.trials.rules_result import ArmCount, StageResult
from service.tubs.queries import readings

MICRO_PER_MINOR = 10_000


@dataclass(frozen=True)
class Result:
    """A trial as it stands: what was found, what it says and what it cannot say."""

    trial: Trial
    layout: Layout
    observations: Sequence[TrialObservation]
    stages: Sequence[StageResult]
    plants: Sequence[Survived]
    hatching: Sequence[tuple[str, str, Sequence[HatchPoint]]]  # arm, pest
    fits: Sequence[Fitted]
    against: Mapping[str, Sequence[Reason]]  # what speaks against taking each fit over
    eyes: Sequence[Eye]
    methods: Sequence[Method]
    verdict: Sequence[str]
    best: Mapping[str, Sequence[str]]
    limits: Sequence[str]

    @property
    def blind(self) -> bool:
        """Whether nobody who looked could know the arms, as far as the records say."""
        return self.trial.blind and not any(one.could_know for one in self.observations)

    def kill_of(self, arm: str, pest: str, stage: str) -> tuple[StageResult, rules_result.Kill] | None:
        """What an arm shows of a stage; None when nothing of it was there."""
        for found in self.stages:
            for kill in found.kills:
                if (found.pest, found.stage, kill.count.arm) == (pest, stage, arm):
                    return found, kill
        return None


def result_of(session: Session, trial: Trial, now: datetime) -> Result:
    """The result of a trial from what was observed until now."""
    layout = queries.layout_of(session, trial.id)
    found = queries.observations_of(session, trial.id)
    known = queries.known_of(found)
    stages = _stages(trial, layout, known)
    hatching = _hatching(session, trial, layout, known, now)
    scheduled = queries.schedule_of(trial, found, now)
    control, found_fits = layout.control, hatch_dates.fits(session, trial)
    over = [
        rules_hatch.is_over(points)
        for arm, _, points in hatching
        if points and (control is None or arm == control.code)
    ]
    return Result(
        trial=trial,
        layout=layout,
        observations=found,
        stages=stages,
        plants=_plants(session, layout, found),
        hatching=hatching,
        fits=found_fits,
        against={fit.pest: hatch_dates.against(session, fit) for fit in found_fits},
        eyes=rules_hatch.eyes(
            [(one.observer, test["hidden"], test["found"]) for one in found for test in one.told["dummies"]]
        ),
        methods=_methods(session, layout),
        verdict=[words for stage in stages for words in rules_verdict.stage_verdict(stage)],
        best={f"{stage.pest} {stage.stage}": rules_verdict.best_arms(stage) for stage in stages},
        limits=rules_verdict.limits(
            stages,
            layout=views.warnings(trial, layout),
            missed=[look.day for look in scheduled if look.state is When.MISSED],
            late=[look.day for look in scheduled if look.state is When.LATE],
            departures=_departures(session, trial, layout),
            hatch_over=None if not over or None in over else all(over),
            blind=rules_blind.blind_limits([one.could_know for one in found]) if trial.blind else [],
        ),
    )


def _labels(layout: Layout, tub: TrialTub) -> list[str]:
    return [tub.label, *(unit.label for unit in layout.units if unit.trial_tub_id == tub.id)]


def _stages(trial: Trial, layout: Layout, known: Known) -> list[StageResult]:
    found = []
    for target in trial.targets:
        arms = []
        for arm in layout.arms:
            tubs = [_labels(layout, tub) for tub in layout.tubs if tub.arm_id == arm.id]
            told = [rules_result.tally(known, labels, target["pest"], target["stage"]) for labels in tubs]
            read = tuple(one for one in told if one is not None)
            arms.append(ArmCount(arm.code, arm.protocol_version_id is None, read, len(told) - len(read)))
        shown = rules_result.stage_result(target["pest"], target["stage"], arms)
        found += [] if shown is None else [shown]
    return found


def _plants(session: Session, layout: Layout, found: Sequence[TrialObservation]) -> list[Survived]:
    lots = queries.named_units(session, layout)
    rows = [(one.day, row) for one in found for row in one.told["conditions"]]
    groups = []
    for plant_id, name in sorted(
        {(lot["plant_id"], lot["plant"]) for lot in lots.values()}, key=lambda p: p[1]
    ):
        for arm in layout.arms:
            tubs = {tub.id for tub in layout.tubs if tub.arm_id == arm.id}
            labels = tuple(
                unit.label
                for unit in layout.units
                if unit.trial_tub_id in tubs and lots[unit.lot_id]["plant_id"] == plant_id
            )
            own = tuple(row for row in rows if row[1]["label"] in set(labels))
            is_control = arm.protocol_version_id is None
            groups.append(Plants(arm.code, is_control, plant_id, name, labels, own))
    controls = {group.plant_id: group for group in groups if group.control}
    judged = [
        rules_plants.survived(group, None if group.control else controls.get(group.plant_id))
        for group in groups
    ]
    return [one for one in judged if one is not None]


def _hatching(
    session: Session, trial: Trial, layout: Layout, known: Known, now: datetime
) -> list[tuple[str, str, Sequence[HatchPoint]]]:
    figures = pest_figures(session)
    pests = [target["pest"] for target in trial.targets if target["stage"] == Stage.EGG]
    end = min(now, trial.starts_at + (trial.days + 30) * DAY)
    found: list[tuple[str, str, Sequence[HatchPoint]]] = []
    logs = {tub.id: readings(session, tub.tub_id, trial.starts_at - FLANK, end) for tub in layout.tubs}
    for pest in pests:
        told = figures[pest]["development"]
        grows = development(pest, told) if told else None
        for arm in layout.arms:
            tubs = [tub for tub in layout.tubs if tub.arm_id == arm.id]
            warmth = [_warmth(trial, logs[tub.id], grows, end) for tub in tubs]
            points = rules_hatch.hatch_points(
                known, [_labels(layout, tub) for tub in tubs], pest, grows, warmth
            )
            found.append((arm.code, pest, points))
    return found


def _warmth(trial: Trial, log: Sequence[Reading], grows: Development | None, end: datetime) -> Warmth:
    if grows is None or not log:
        return lambda _: None
    credited = curve(log, trial.starts_at, max(end, trial.starts_at), grows)
    return lambda day: credited.at(trial.starts_at + day * DAY)


def _methods(session: Session, layout: Layout) -> list[Method]:
    facts = queries.treatments_of(session, layout)
    found = []
    for arm in layout.arms:
        tubs = [tub for tub in layout.tubs if tub.arm_id == arm.id]
        units = sum(unit.trial_tub_id in {tub.id for tub in tubs} for unit in layout.units)
        version = arm.protocol_version_id
        content = None if version is None else version_by_id(session, version)[1].content
        ids = {fact.treatment_id for tub in tubs for fact in facts[tub.id]}
        cost = _cost(session, ids)
        found.append(rules_methods.method(arm.code, content, tubs=len(tubs), units=units, cost=cost))
    return found


def _cost(session: Session, treatment_ids: set[str]) -> tuple[int | None, str | None]:
    """What these treatments drew from stock, in millionths of a currency; reversed lines cancel out."""
    rows = session.execute(
        select(StockEntry.amount, StockBatch.received, StockBatch.cost_minor, StockBatch.currency)
        .join(StockBatch, StockBatch.id == StockEntry.batch_id)
        .where(StockEntry.treatment_id.in_(treatment_ids))
    ).all()
    currencies = {row.currency for row in rows}
    if not rows or len(currencies) > 1 or any(row.cost_minor is None for row in rows):
        return (0 if not rows else None), None
    total = sum(-row.amount * row.cost_minor * MICRO_PER_MINOR / row.received for row in rows)
    return round(total), currencies.pop()


def _departures(session: Session, trial: Trial, layout: Layout) -> list[str]:
    facts = queries.treatments_of(session, layout)
    found = [
        f"{layout.arm_of(tub).code}, {tub.label}: {words}"
        for tub in layout.tubs
        for fact in facts[tub.id]
        for words in fact.departures
    ]
    touched = session.execute(
        select(Contact.lot_id, Contact.at).where(
            Contact.lot_id.in_(layout.lot_ids), Contact.way == "tool", Contact.at >= trial.starts_at
        )
    ).all()
    tubs = {unit.lot_id: layout.tub_of(unit).label for unit in layout.units}
    found += [f"{tubs[row.lot_id]}: a tool brought other water in on {row.at:%Y-%m-%d}" for row in touched]
    return list(dict.fromkeys(found))
