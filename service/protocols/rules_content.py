"""What a written treatment must say to make sense."""

from collections.abc import Collection, Iterator, Mapping
from typing import Any

from service.core.reasons import Reason
from service.protocols.rules import BATHS, DOSED, Kind


def content_reasons(
    content: Mapping[str, Any], substances: Mapping[str, str], pests: Collection[str]
) -> list[Reason]:
    """What is wrong with a written treatment, each with the pointer to it.

    `substances` gives the substance of every material that is on record, `pests` the codes of the pests.
    """
    found = [
        reason
        for place, step in enumerate(content["steps"])
        for reason in _step_reasons(place, step, content, substances)
    ]
    found += _course_reasons(content)
    neutraliser = content.get("neutraliser")
    if neutraliser is not None:
        for name in ("material", "with_material"):
            if neutraliser.get(name) not in {None, *substances}:
                found.append(_wrong(f"#/neutraliser/{name}", "There is no such material."))
    for place, credit in enumerate(content.get("credits", ())):
        if credit["pest"] not in pests:
            found.append(_wrong(f"#/credits/{place}/pest", "There is no such pest."))
    return found


def _step_reasons(
    place: int, step: Mapping[str, Any], content: Mapping[str, Any], substances: Mapping[str, str]
) -> Iterator[Reason]:
    at = f"#/steps/{place}"
    if step["n"] != place + 1:
        yield _wrong(f"{at}/n", f"Steps are numbered in order: this one is {place + 1}.")
    duration = step["duration"]
    if not duration["min_s"] <= duration["target_s"] <= duration["max_s"]:
        yield _wrong(f"{at}/duration", "The target lies between min_s and max_s.")
    yield from _dose_reasons(at, step)
    material = step.get("material")
    if material is None:
        return
    if material not in substances:
        yield _wrong(f"{at}/material", "There is no such material.")
    elif step["kind"] in BATHS and substances[material] != content.get("substance"):
        yield _wrong(f"{at}/material", "It does not hold the substance of the treatment.")


def _dose_reasons(at: str, step: Mapping[str, Any]) -> Iterator[Reason]:
    dosed = step.get("dose") is not None or (
        step["kind"] == Kind.NEUTRALISE and step.get("assumed_residue") is not None
    )
    if step["kind"] not in DOSED:
        if step.get("material") is not None or step.get("dose") is not None:
            yield _wrong(f"{at}/material", f"A {step['kind']} takes no material.")
        return
    if step.get("material") is None:
        yield _wrong(f"{at}/material", f"A {step['kind']} needs a material.")
    if not dosed:
        yield _wrong(f"{at}/dose", f"A {step['kind']} needs a dose.")


def _course_reasons(content: Mapping[str, Any]) -> list[Reason]:
    held = content.get("maintained_dose")
    if held is None:
        if content.get("adults_credited_after") is not None:
            return [_wrong("#/adults_credited_after", "Only a course with a maintained dose has doses.")]
        return []
    found = []
    if held["substance"] != content.get("substance"):
        found.append(_wrong("#/maintained_dose/substance", "It is not the substance of the treatment."))
    if content.get("water_change") is None:
        found.append(_wrong("#/water_change", "A maintained dose needs the rhythm of water changes."))
    if not any(step["kind"] == Kind.SOAK for step in content["steps"]):
        found.append(_wrong("#/maintained_dose", "A maintained dose needs a soak."))
    return found


def _wrong(pointer: str, detail: str) -> Reason:
    return Reason("validation", detail, pointer=pointer)
