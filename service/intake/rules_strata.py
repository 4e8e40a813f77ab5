"""Lines with parts: what is wrong with them, and mixed ones split by kind where the kinds were counted."""

from collections.abc import Mapping, Sequence
from itertools import groupby
from typing import Any

from service.core.reasons import Reason
from service.lots.rules_strata import Strata, are_counted, kinds


def strata_reasons(line: Mapping[str, Any], pointer: str) -> list[Reason]:
    """What is wrong with the parts of a line: one named twice, some not counted, or not as many as came."""
    strata: Strata = line["strata"]
    names = [part["name"] for part in strata]
    reasons = [
        Reason("validation", "This part is named twice.", pointer=f"{pointer}/{place}/name")
        for place, name in enumerate(names)
        if name in names[:place]
    ]
    counted = [part["quantity"] for part in strata if part["quantity"] is not None]
    if counted and len(counted) < len(strata):
        detail = "Say how many there are of every part, or of none."
        reasons.append(Reason("validation", detail, len(strata), len(counted), pointer))
    elif counted and sum(counted) != line["quantity"]:
        detail = f"The parts make {sum(counted)}, the line {line['quantity']}."
        reasons.append(Reason("validation", detail, line["quantity"], sum(counted), pointer))
    return reasons


def by_kind(lines: Sequence[Mapping[str, Any]]) -> list[Mapping[str, Any]]:
    """The lines with each mixed one split into a line for each kind, where the kinds were counted.

    They came in one water, so they share a bag. A line whose kinds nobody counted stays one: the worst
    tolerance and the least sensitivity of them all count for it (the pests' development does not depend
    on the plant).
    """
    found: list[Mapping[str, Any]] = []
    for n, line in enumerate(lines, 1):
        plants = kinds(line["plant_id"], line["strata"])
        if len(plants) == 1 or not are_counted(line["strata"]):
            found.append(line)
        else:
            found += _split({**line, "bag": line["bag"] or f"mixed line {n}"}, plants)
    return found


def _split(line: Mapping[str, Any], plants: Sequence[str]) -> list[Mapping[str, Any]]:
    def plant(part: Mapping[str, Any]) -> int:
        return plants.index(part["plant_id"] or line["plant_id"])

    groups = groupby(sorted(line["strata"], key=plant), key=plant)
    return [_line(line, plants[place], list(parts)) for place, parts in groups]


def _line(line: Mapping[str, Any], plant_id: str, parts: Strata) -> Mapping[str, Any]:
    strata = [{**part, "plant_id": None} for part in parts] if len(parts) > 1 else []
    quantity = sum(part["quantity"] for part in parts)
    return {**line, "plant_id": plant_id, "quantity": quantity, "strata": strata}
