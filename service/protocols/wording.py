"""The sentences of a mixing sheet: the order of mixing, and the cautions."""

from collections.abc import Callable, Mapping, Sequence
from typing import Any

from service.protocols import measures
from service.protocols.mixing import Mix
from service.protocols.rules import BATHS

Sentences = Callable[..., Sequence[str]]


def order(step: Mapping[str, Any], found: Mix | None, volume_l: float) -> list[str]:
    """What to do in which order; the material goes to the water."""
    total = measures.words(measures.litres(volume_l))
    if found is None:
        return [step["instructions"]] if step.get("instructions") else []
    figures = found.figures
    wear = ", ".join(figures.wear) or "Gloves"
    if found.figures.form == "liquid":
        stock_l = sum(portion.measured.value for portion in found.portions) / 1000
        water = f"Fill in {measures.words(measures.litres(max(volume_l - stock_l, 0)))} of cold water."
    else:
        water = f"Fill in most of {total} of water."
    pours = [
        f"Measure {measures.words(measures.amount(portion.measured.value, figures.unit))} of {figures.name} "
        f"with the {portion.device.name} and add it to the water, never the water to it."
        for portion in found.portions
    ]
    ends = [
        f"Make up to {total}, stir.",
        "Label the tub: material, mg/L, time, initials, time to discard.",
    ]
    if step["kind"] in BATHS:
        ends.append("Only now put the plants in, and start the timer.")
    return [f"Put on: {wear}. Open a window.", water, *pours, *ends]


def cautions(content: Mapping[str, Any], sentences: Sentences, mixes: Sequence[Mix]) -> list[str]:
    """The cautions of the protocol, of the substances by `sentences`, and of the materials, each once."""
    substances = {found.figures.substance for found in mixes}
    said = [
        *content["cautions"],
        *sentences(*sorted(substances)),
        *(caution for found in mixes for caution in found.figures.cautions),
    ]
    return list(dict.fromkeys(said))
