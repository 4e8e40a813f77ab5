"""What a result is worth as evidence: grades by rules that can be read, credits as Beta distributions."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from service.core.reasons import Reason
from service.science.evidence import BetaCredit, credit_interval, prior_credit, updated_credit
from service.science.proportions import Interval
from service.trials.rules import Stage
from service.trials.rules_result import Kill

# How many animals the credit so far is worth, by its grade; assumptions.
PRIOR_WEIGHT: Mapping[str, float] = {"A": 20.0, "B": 10.0, "C": 4.0, "D": 2.0}
UNKNOWN = BetaCredit(1.0, 1.0)  # nothing credited so far: every kill as likely
GRADE_RULES: Mapping[str, str] = {
    "A": "a sound control, three tubs an arm or more, 30 animals in each of the two arms, every look blind",
    "B": "a sound control, two tubs an arm or more, 20 animals in each of the two arms",
    "C": "a control, but fewer tubs or animals, or a fifth of the control's died",
    "D": "no control to correct by",
}


@dataclass(frozen=True)
class Learnt:
    """What a trial would credit: the distribution, its grade, and the share it rests on the trial for."""

    pest: str
    stage: str
    before: float | None
    credit: BetaCredit
    interval: Interval
    grade: str
    trial_grade: str
    source: str


def trial_grade(kill: Kill, control_units: int, control_tubs: int, *, blind: bool) -> str:
    """The grade of one arm's kill by `GRADE_RULES`."""
    if kill.corrected is None:
        return "D"
    if not kill.corrected.control_sound:
        return "C"
    tubs, units = min(len(kill.count.tallies), control_tubs), min(kill.count.before, control_units)
    if tubs >= 3 and units >= 30 and blind:
        return "A"
    return "B" if tubs >= 2 and units >= 20 else "C"


def learnt(
    pest: str, stage: str, kill: Kill, old: Mapping[str, Any] | None, *, grade: str, source: str
) -> Learnt | None:
    """The credit after the trial; None when nothing could be corrected by a control.

    It carries the grade of whatever makes up more of its weight: what was credited, or the trial.
    """
    if kill.corrected is None:
        return None
    prior = credit_so_far(old)
    survival = max(0.0, 1 - kill.corrected.control_mortality)
    count = kill.count
    after = updated_credit(prior, count.before, min(count.after, count.before), survival, kill.design_effect)
    gained = after.weight - prior.weight
    combined = grade if old is None or gained >= prior.weight else str(old["grade"])
    return Learnt(
        pest=pest,
        stage=stage,
        before=None if old is None else float(old["kill"]),
        credit=after,
        interval=credit_interval(after),
        grade=combined,
        trial_grade=grade,
        source=source,
    )


def credit_so_far(old: Mapping[str, Any] | None) -> BetaCredit:
    """What a protocol is credited with, as a distribution: its own, or by the weight of its grade."""
    if old is None:
        return UNKNOWN
    if old.get("beta") is not None:
        return BetaCredit(**old["beta"])
    return prior_credit(float(old["kill"]), PRIOR_WEIGHT[old["grade"]])


def credit_document(found: Learnt, old: Mapping[str, Any] | None, *, course: bool) -> dict[str, Any]:
    """A credit as the next version of a protocol says it.

    The egg credit of a course stays bound to measured readings, as before or by decision for all courses.
    """
    measured = bool(old["needs_measured_course"]) if old is not None else course and found.stage == Stage.EGG
    return {
        "pest": found.pest,
        "stage": found.stage,
        "kill": round(found.credit.kill, 4),
        "grade": found.grade,
        "source": found.source,
        "needs_measured_course": measured,
        "beta": {"killed": round(found.credit.killed, 4), "survived": round(found.credit.survived, 4)},
    }


def adoption_reasons(
    *, control: bool, adopted: bool, same_steps: bool, observed: bool, blind: bool, closed: bool
) -> list[Reason]:
    """Why nothing can be learnt from an arm: the control, twice, a protocol that moved on, nothing seen."""
    found = []
    if control:
        found.append(Reason("control-arm", "Nothing is learnt of a protocol from the untreated control."))
    if adopted:
        found.append(
            Reason("adopted-already", "This arm's result was adopted already: it would count twice.")
        )
    if not same_steps:
        detail = (
            "The protocol has been written anew since, with other steps: it no longer says what was tried."
        )
        found.append(Reason("protocol-moved-on", detail))
    if not observed:
        found.append(Reason("nothing-observed", "Nothing was observed that could be corrected by a control."))
    if blind and not closed:
        detail = "The trial is blind and open: who adopts a result tells what the arms are. Close it first."
        found.append(Reason("trial-open", detail))
    return found
