"""Mixing sheets: what to measure, in which order, with which cautions; pure, stores nothing."""

from collections.abc import Mapping, MutableMapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from service.core.reasons import Reason
from service.protocols import measures, wording
from service.protocols.figures import Figures
from service.protocols.mixing import Mix, mix
from service.protocols.rules import Kind
from service.protocols.spent import neutraliser
from service.protocols.wording import Sentences
from service.science.neutralising import neutraliser_g
from service.stores.rules import BatchToday

Batches = Mapping[str, Sequence[BatchToday]]


@dataclass(frozen=True)
class Need:
    """What a step takes from a batch, in base units; `batch_id` None is what no batch holds."""

    n: int
    material_code: str
    batch_id: str | None
    base_units: int
    base_unit: str


@dataclass(frozen=True)
class Bench:
    """What there is to mix with: figures of the materials, their batches in the order of use.

    `residue_mg_per_l` is what a test read in the rinse water, for a neutralising step; `sentences` gives the
    general cautions for substances.
    """

    figures: Mapping[str, Figures]
    batches: Batches
    sentences: Sentences = field(default=lambda *substances: ())
    residue_mg_per_l: float | None = None


@dataclass(frozen=True)
class StepSheet:
    """The sheet of one step: its documented shape, its mix, None when it takes no material."""

    n: int
    document: dict[str, Any]
    mix: Mix | None

    @property
    def needs(self) -> list[Need]:
        """What it takes from the stock."""
        return [] if self.mix is None else _needs(self.n, self.mix)


@dataclass(frozen=True)
class Sheet:
    """A whole sheet: its documented shape, what stands against it, what it takes from the stock."""

    document: dict[str, Any]
    steps: tuple[StepSheet, ...]

    @property
    def blocks(self) -> list[Reason]:
        """Why nothing of the kind may be mixed."""
        return [block for step in self.steps if step.mix for block in step.mix.blocks]

    @property
    def needs(self) -> list[Need]:
        """What all its steps take from the stock."""
        return [need for step in self.steps for need in step.needs]

    @property
    def shortages(self) -> list[Reason]:
        """What is missing, as reasons."""
        return [_shortage(step.mix) for step in self.steps if step.mix and step.mix.missing]


def sheet(
    content: Mapping[str, Any],
    bench: Bench,
    *,
    code: str,
    number: int,
    water_volume_l: float,
    computed_for: datetime,
    reference_version: str | None,
    only: int | None = None,
) -> Sheet:
    """The mixing sheet of a protocol version for a volume of water, at the strengths in `bench`.

    Volumes are made up to, so that stock and water together fill the bath. `only` takes one step of it.
    """
    left = {batch.batch_id: batch.balance for found in bench.batches.values() for batch in found}
    steps = tuple(
        step_sheet(content, step, bench, water_volume_l, left)
        for step in content["steps"]
        if only in {None, step["n"]}
    )
    mixes = [step.mix for step in steps if step.mix]
    document = {
        "protocol": code,
        "version": number,
        "water_volume": measures.litres(water_volume_l),
        "computed_for": computed_for,
        "reference_version": reference_version,
        "cautions": wording.cautions(content, bench.sentences, mixes),
        "warnings": [warning for found in mixes for warning in found.warnings],
        "protective_wear": list(content.get("protective_wear", ())),
        "neutraliser": neutraliser(content, water_volume_l),
        "disposal": content["disposal"],
        "enough": not any(found.missing for found in mixes),
        "shortages": [_missing(found) for found in mixes if found.missing],
        "steps": [step.document for step in steps],
    }
    return Sheet(document, steps)


def step_needs(content: Mapping[str, Any], n: int, water_volume_l: float, bench: Bench) -> list[Need]:
    """What step `n` takes from which batch."""
    left = {batch.batch_id: batch.balance for found in bench.batches.values() for batch in found}
    step = next(step for step in content["steps"] if step["n"] == n)
    return step_sheet(content, step, bench, water_volume_l, left).needs


def step_sheet(
    content: Mapping[str, Any],
    step: Mapping[str, Any],
    bench: Bench,
    water_volume_l: float,
    left: MutableMapping[str, int],
) -> StepSheet:
    """The sheet of one step; `left` (base units in each batch) is lessened by what it takes."""
    volume_l = water_volume_l * step.get("volume_share", 1.0)
    found = _mix(step, bench, volume_l, left)
    duration = {name: measures.seconds(step["duration"][f"{name}_s"]) for name in ("target", "min", "max")}
    document = {
        "n": step["n"],
        "kind": step["kind"],
        "title": step.get("title"),
        "instructions": step.get("instructions"),
        "duration": duration,
        "water": measures.litres(volume_l),
        "order": wording.order(step, found, volume_l),
        "result": None,
        "amounts": [],
    }
    if found is not None:
        document |= {"result": _result(found), "amounts": measures.lines(found)}
    return StepSheet(step["n"], document, found)


def materials_of(content: Mapping[str, Any]) -> list[str]:
    """The codes of the materials that the steps take, in their order."""
    return list(dict.fromkeys(step["material"] for step in content["steps"] if step.get("material")))


def _mix(
    step: Mapping[str, Any], bench: Bench, volume_l: float, left: MutableMapping[str, int]
) -> Mix | None:
    material = step.get("material")
    if material is None:
        return None
    neutralising = step["kind"] == Kind.NEUTRALISE
    target = _target_mg_per_l(step, bench.residue_mg_per_l if neutralising else None)
    return mix(
        bench.figures[material],
        target_mg_per_l=target,
        volume_l=volume_l,
        batches=bench.batches.get(material, ()),
        left=left,
        neutralising=neutralising,
    )


def _target_mg_per_l(step: Mapping[str, Any], measured_mg_per_l: float | None) -> float:
    dose = step.get("dose")
    if dose is not None:
        return float(dose["value"]) * (1000 if dose["unit"] == "g/L" else 1)
    residue = step["assumed_residue"]["value"] if measured_mg_per_l is None else measured_mg_per_l
    # Grams for one litre are the concentration in g/L.
    return 1000 * neutraliser_g(step["agent"], residue, 1.0, "rinse")


def _result(found: Mix) -> dict[str, Any]:
    result: dict[str, Any] = {
        "substance": found.figures.substance,
        "value": round(found.result_mg_per_l, 4),
        "unit": "mg/L",
    }
    element = found.figures.element
    if element and found.figures.substance != "copper":
        symbol, share = element
        result["element"] = {
            "symbol": symbol,
            "value": round(found.result_mg_per_l * share, 4),
            "unit": "mg/L",
        }
    return result


def _needs(n: int, found: Mix) -> list[Need]:
    figures = found.figures
    return [
        Need(
            n,
            figures.code,
            None if portion.batch is None else portion.batch.batch_id,
            portion.base_units,
            figures.base_unit,
        )
        for portion in found.portions
    ]


def _missing(found: Mix) -> dict[str, Any]:
    figures = found.figures
    return {"material": figures.code, "missing": measures.amount(found.missing, figures.unit)}


def _shortage(found: Mix) -> Reason:
    figures = found.figures
    total = sum(portion.measured.value for portion in found.portions)
    have = sum(portion.measured.value for portion in found.portions if portion.batch is not None)
    needed, there = (measures.words(measures.amount(value, figures.unit)) for value in (total, have))
    detail = f"Not enough usable {figures.name}: {needed} needed, {there} there."
    return Reason("insufficient-stock", detail, needed=needed, have=there)
