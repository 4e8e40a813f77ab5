"""What a trial says, in words with their numbers, and what it cannot say."""

from collections.abc import Iterator, Sequence

from service.core.reasons import Reason
from service.trials.rules import SOUND_TUBS, Stage
from service.trials.rules_result import BETTER_BELOW, ArmCount, Compared, Kill, StageResult

NOUNS = {
    Stage.EGG: "egg masses",
    Stage.HATCHLING: "hatchlings",
    Stage.JUVENILE: "juveniles",
    Stage.ADULT: "adults",
}
ALWAYS = (
    "It speaks of these plants, animals, water and temperatures; another strain or a softer leaf may fare "
    "otherwise.",
    "No nursery's trial proves that none survives: the last per cent needs hundreds of animals, the kill "
    "asked for in plant quarantine ninety thousand.",
)


def stage_verdict(found: StageResult) -> list[str]:
    """One sentence for each treated arm, and one for the arms that were not told apart."""
    return [_sentence(kill, found) for kill in found.kills if not kill.count.control]


def _sentence(kill: Kill, found: StageResult) -> str:
    control = next((one.count for one in found.kills if one.count.control), None)
    name = found.pest.replace("_", " ")
    verb = "hatched" if found.stage == Stage.EGG else "were alive"
    told = f"{kill.count.arm}: {_counted(kill.count, found.stage)} of {name} {verb}"
    told += "" if control is None else f" against {control.after} of {control.before} in the control"
    if kill.corrected is not None:
        told += f": corrected kill {kill.corrected.efficacy:.0%}"
        interval = kill.corrected.interval
        told += "" if interval is None else f" (95 % interval {interval.low:.0%} to {interval.high:.0%})"
    else:
        told += (
            f": {kill.share.estimate:.0%} dead ({kill.share.low:.0%} to {kill.share.high:.0%}), not corrected"
        )
    told += "".join(f". {words}" for words in _compared(kill.count.arm, found.compared, control))
    if kill.count.after == 0:
        told += (
            f". None of {kill.count.before} left proves a kill of {kill.proved:.0%} at least, not of 100 %"
        )
    return f"{told}."


def _counted(count: ArmCount, stage: str) -> str:
    return f"{count.after} of {count.before} {NOUNS[Stage(stage)]}"


def _compared(arm: str, pairs: Sequence[Compared], control: ArmCount | None) -> Iterator[str]:
    for pair in pairs:
        if arm not in {pair.first, pair.second}:
            continue
        other = pair.second if arm == pair.first else pair.first
        against_control = control is not None and other == control.arm
        words = "the control" if against_control else other
        if pair.better == arm:
            yield f"Better than {words} (P {_chance(pair.corrected)} by Holm)"
        elif against_control:
            yield f"Not told apart from the control (P {_chance(pair.corrected)} by Holm)"


def _chance(chance: float) -> str:
    return "below 0.0001" if chance < 0.0001 else f"{chance:.2g}"


def best_arms(found: StageResult) -> list[str]:
    """The treated arms that kill better than the control and that no other arm beats."""
    control = next((kill.count.arm for kill in found.kills if kill.count.control), None)
    beaten = {
        pair.second if pair.better == pair.first else pair.first for pair in found.compared if pair.better
    }
    over_control = {
        pair.better for pair in found.compared if pair.better and control in {pair.first, pair.second}
    }
    treated = [kill.count.arm for kill in found.kills if not kill.count.control]
    return [arm for arm in treated if arm in over_control and arm not in beaten]


def limits(
    stages: Sequence[StageResult],
    *,
    layout: Sequence[Reason],
    missed: Sequence[int],
    late: Sequence[int],
    departures: Sequence[str],
    hatch_over: bool | None,
    blind: Sequence[str],
) -> list[str]:
    """What a trial cannot say, and what makes it say less."""
    found = [*(reason.detail for reason in layout), *blind]
    found += [words for stage in stages for words in _stage_limits(stage)]
    if missed:
        found.append(f"Nobody looked on day {', '.join(map(str, missed))}: what happened then was not seen.")
    if late:
        found.append(f"The look on day {', '.join(map(str, late))} came more than a day late.")
    if hatch_over is False:
        found.append(
            "By the temperature log fresh eggs may still hatch: counts of eggs are not final before then."
        )
    if hatch_over is None and any(stage.stage == Stage.EGG for stage in stages):
        found.append("Without a temperature log nobody knows whether the eggs' time is over.")
    found += [f"Something went differently: {words}" for words in departures]
    return [*dict.fromkeys(found), *ALWAYS]


def _stage_limits(found: StageResult) -> Iterator[str]:
    name = f"{NOUNS[Stage(found.stage)]} of {found.pest.replace('_', ' ')}"
    for kill in found.kills:
        yield from _arm_limits(kill, name)
    if len({kill.count.before for kill in found.kills}) > 1:
        yield f"The arms began with unlike numbers of {name}: corrected for it (Henderson and Tilton)."
    if found.design_effect > 1:
        worth = f"{found.design_effect:.1f} animals count as one"
        yield f"Tubs of one arm differed for {name}: {worth}, intervals are wider, comparisons stricter."
    elif not found.tubs_tell:
        needed = f"it takes {SOUND_TUBS} tubs an arm, and some left"
        yield f"Whether tubs differ for {name} cannot be judged: {needed}."
    if len(found.compared) > 1:
        chance = f"by chance alone an arm is called better in no more than {BETTER_BELOW:.0%} of such trials"
        yield f"{len(found.compared)} comparisons for {name} were made and corrected for: {chance}."


def _arm_limits(kill: Kill, name: str) -> Iterator[str]:
    count, corrected = kill.count, kill.corrected
    if corrected is not None and not corrected.control_sound:
        share = corrected.control_mortality
        yield f"{share:.0%} of the control's {name} died: above a fifth the trial is to be repeated."
    if count.unaccounted:
        yield (
            f"{count.unaccounted} of {count.before} {name} in {count.arm} were found neither alive nor dead "
            "and count as not alive."
        )
    if kill.why_not and not count.control:
        yield f"{count.arm}, {name}: {kill.why_not}"
    if count.tubs_unread:
        yield f"{count.tubs_unread} tubs of {count.arm} were not looked at again for {name}."
