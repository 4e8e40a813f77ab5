"""What a treatment is credited with: adults killed, degree-days that count half; plain values only."""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import pairwise
from typing import Any

SCOPE = ("bladder_snail", "ramshorn_snail", "pond_snail")
CREDITED_GRADES = frozenset({"A", "B"})
RELIABLE = 0.95  # share killed that counts as reliable; assumption
STRONG_MG_PER_L = 0.6  # copper that killed all embryos in four days (abstract on Bithynia and Physa gyrina)
STRONG_FOR = timedelta(hours=96)
LOW_FOR = timedelta(hours=24)  # measured below target for longer than this, a course begins anew
DOSE_APART = timedelta(hours=48)  # doses closer than this count as one; assumption


@dataclass(frozen=True)
class StepFact:
    """What happened to one step."""

    n: int
    kind: str
    started_at: datetime | None
    finished_at: datetime | None
    departure: str | None = None


@dataclass(frozen=True)
class DoseFact:
    """The maintained substance after a dose of a course, by calculation, in mg/L."""

    at: datetime
    mg_per_l: float


@dataclass(frozen=True)
class TreatmentFact:
    """A treatment as the rooms above judge it; `measured` are (moment, mg/L) of its maintained substance."""

    treatment_id: str
    method: str
    protocol_code: str
    number: int
    content: Mapping[str, Any]
    state: str
    started_at: datetime | None
    ended_at: datetime | None
    departures: tuple[str, ...] = ()
    steps: tuple[StepFact, ...] = ()
    doses: tuple[DoseFact, ...] = ()
    measured: tuple[tuple[datetime, float], ...] = ()


def due_at(duration: Mapping[str, Any], started_at: datetime) -> datetime:
    """When a step should end."""
    return started_at + timedelta(seconds=duration["target_s"])


def adults_credited_at(
    fact: TreatmentFact,
    *,
    pests: Collection[str] = SCOPE,
    grades: Collection[str] = CREDITED_GRADES,
) -> datetime | None:
    """When the adults of `pests` count as dead, None when they do not.

    Needs a kill of at least 95 % on these grades of evidence for every pest. A dip or soak: the end of its
    last killing step, all of them kept within their limits. A course: the dose its protocol names (doses
    under 48 h apart count as one), or later the first reading of its water at target; counted anew after the
    water was measured too weak for more than 24 h. What was credited before that stays.
    """
    if not _kills_adults(fact.content, pests, grades):
        return None
    after = fact.content.get("adults_credited_after")
    if after is not None:
        return _course_credited_at(fact, after)
    steps = _killing_steps(fact)
    if not steps or any(step.finished_at is None or step.departure for step in steps):
        return None
    return max(step.finished_at for step in steps if step.finished_at)


def adult_step_ended_at(
    fact: TreatmentFact,
    *,
    pests: Collection[str] = SCOPE,
    grades: Collection[str] = CREDITED_GRADES,
) -> datetime | None:
    """The end of the last step that kills adults, credited or not; None when none has ended.

    A course that is credited while it runs (for these pests and grades) counts from there, so that no second
    wait follows it.
    """
    if fact.content.get("adults_credited_after") is not None:
        credited = adults_credited_at(fact, pests=pests, grades=grades)
        if credited is not None:
            return credited
    ends = [step.finished_at for step in _killing_steps(fact) if step.finished_at]
    return max(ends, default=None)


def soaks(fact: TreatmentFact) -> list[tuple[datetime, datetime]]:
    """The spans in which degree-days count half: chemical soaks; one that runs ends as planned."""
    if not fact.content.get("soak_counts_half"):
        return []
    written = {step["n"]: step for step in fact.content["steps"]}
    return [
        (step.started_at, step.finished_at or due_at(written[step.n]["duration"], step.started_at))
        for step in fact.steps
        if step.kind == "soak" and step.started_at is not None
    ]


def kill_of(
    fact: TreatmentFact, pest: str, stage: str, *, grades: Collection[str] = CREDITED_GRADES
) -> float:
    """Share of a pest's stage that a treatment counts as having killed, by evidence of these grades.

    Nothing while it is not finished, or when a killing step left its limits. A course counts only when it was
    measured: the doses that credit its adults, or 0.6 mg/L and more read over 96 hours.
    """
    if fact.state != "finished" or any(step.departure for step in _killing_steps(fact)):
        return 0.0
    is_course = fact.content.get("adults_credited_after") is not None
    credited = (
        credit["kill"]
        for credit in fact.content["credits"]
        if (credit["pest"], credit["stage"]) == (pest, stage)
        and credit["grade"] in grades
        and (not (is_course or credit.get("needs_measured_course")) or _course_was_measured(fact))
    )
    return float(max(credited, default=0.0))


def killed_since(
    facts: Sequence[TreatmentFact], pest: str, stage: str, since: datetime | None, *, grades: Collection[str]
) -> float:
    """Share killed by all treatments begun since a moment (None: ever), each of what the others left."""
    alive = 1.0
    for fact in facts:
        if since is None or (fact.started_at is not None and fact.started_at >= since):
            alive *= 1 - kill_of(fact, pest, stage, grades=grades)
    return 1 - alive


def _course_was_measured(fact: TreatmentFact) -> bool:
    after = fact.content.get("adults_credited_after")
    if after is not None and _course_credited_at(fact, after) is not None:
        return True
    strong_since: datetime | None = None
    for at, mg_per_l in sorted(fact.measured):
        strong_since = None if mg_per_l < STRONG_MG_PER_L else strong_since or at
        if strong_since is not None and at - strong_since >= STRONG_FOR:
            return True
    return False


def _kills_adults(content: Mapping[str, Any], pests: Collection[str], grades: Collection[str]) -> bool:
    killed = {
        credit["pest"]
        for credit in content["credits"]
        if credit["stage"] == "adult" and credit["grade"] in grades and credit["kill"] >= RELIABLE
    }
    return set(pests) <= killed


def _killing_steps(fact: TreatmentFact) -> list[StepFact]:
    killing = {step["n"] for step in fact.content["steps"] if step.get("kills_adults")}
    return [step for step in fact.steps if step.n in killing]


def _course_credited_at(fact: TreatmentFact, after: Mapping[str, Any]) -> datetime | None:
    target = fact.content["maintained_dose"]["value"]
    least = after["measured_share_of_target"] * target * (1 - 1e-9)  # 0.36 is 0.9 of 0.4, in floats as well
    bounds = [None, *_begun_anew(fact, least), None]
    runs = (_run_credited_at(fact, after["dose"], least, span) for span in pairwise(bounds))
    return next((moment for moment in runs if moment is not None), None)


def _run_credited_at(
    fact: TreatmentFact, needed: int, least: float, span: tuple[datetime | None, datetime | None]
) -> datetime | None:
    since, until = span

    def inside(at: datetime) -> bool:
        return (since is None or at >= since) and (until is None or at < until)

    counted = _doses_apart([dose for dose in fact.doses if inside(dose.at)], least)
    if len(counted) < needed:
        return None
    end = fact.ended_at
    readings = sorted(
        at
        for at, mg_per_l in fact.measured
        if mg_per_l >= least and at >= counted[0].at and inside(at) and (end is None or at <= end)
    )
    return max(counted[needed - 1].at, readings[0]) if readings else None


def _begun_anew(fact: TreatmentFact, least: float) -> list[datetime]:
    """The moments at which the water was strong again after it had been measured too weak for too long."""
    events = sorted(
        [
            *((at, mg_per_l >= least) for at, mg_per_l in fact.measured),
            *((dose.at, True) for dose in fact.doses if dose.mg_per_l >= least),
        ]
    )
    found: list[datetime] = []
    low_since: datetime | None = None
    for at, strong in events:
        if not strong:
            low_since = low_since or at
        elif low_since is not None:
            if at - low_since > LOW_FOR:
                found.append(at)
            low_since = None
    return found


def _doses_apart(doses: Sequence[DoseFact], least_mg_per_l: float) -> list[DoseFact]:
    counted: list[DoseFact] = []
    for dose in sorted(doses, key=lambda dose: dose.at):
        enough = dose.mg_per_l >= least_mg_per_l
        if enough and (not counted or dose.at - counted[-1].at >= DOSE_APART):
            counted.append(dose)
    return counted
