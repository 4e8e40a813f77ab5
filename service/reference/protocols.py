"""Written treatments: steps, doses, limits, water changes, and what each is credited with killing."""

from dataclasses import dataclass, fields, is_dataclass
from typing import Any, Literal

from service.reference.words import (
    Count,
    CountingNumber,
    Method,
    NotNegative,
    Positive,
    Share,
    Sourced,
    Stage,
    Substance,
)

EfficacyGrade = Literal["A", "B", "C", "D"]


@dataclass(frozen=True, kw_only=True)
class Concentration:
    """An amount of substance in water."""

    value: Positive
    unit: Literal["mg/L", "g/L"]


@dataclass(frozen=True, kw_only=True)
class Target:
    """What a bath should hold, in mg/L of the substance."""

    substance: Substance
    value: Positive
    unit: Literal["mg/L"]


@dataclass(frozen=True, kw_only=True)
class Duration:
    """How long a step lasts, and the limits outside which it is a departure, in seconds."""

    target_s: Count
    min_s: Count
    max_s: CountingNumber


@dataclass(frozen=True, kw_only=True)
class Step(Sourced):
    """One step; `dose` is the material's substance per litre of the whole bath (`make_up_to`).

    A neutralising step without dose is computed from the chlorine measured in the rinse water, or from
    `assumed_residue` when nothing was measured. `kills_adults`: the clock may not start before its end.
    """

    n: CountingNumber
    kind: Literal["dip", "soak", "neutralise", "rinse", "hold"]
    title: str
    instructions: str
    duration: Duration
    volume_share: Share = 1.0
    material: str | None = None
    dose: Concentration | None = None
    basis: Literal["make_up_to"] | None = None
    agent: str | None = None
    purpose: Literal["rinse", "disposal"] | None = None
    assumed_residue: Target | None = None
    kills_adults: bool = False


@dataclass(frozen=True, kw_only=True)
class WaterChange(Sourced):
    """The rhythm of water changes: days between them in turn, and the share of water replaced."""

    per_week: CountingNumber
    every_days: tuple[CountingNumber, ...]
    fraction: Share
    redose: bool


@dataclass(frozen=True, kw_only=True)
class MaintainedDose(Sourced):
    """The level a course is held at, and the share lost per day that a prediction assumes."""

    substance: Substance
    value: Positive
    unit: Literal["mg/L"]
    decay_per_day: NotNegative


@dataclass(frozen=True, kw_only=True)
class AdultsCreditedAfter(Sourced):
    """The dose of a course after which the adults count as dead, if it was measured at its target."""

    dose: CountingNumber
    measured_share_of_target: Share


@dataclass(frozen=True, kw_only=True)
class MeasuredCourse(Sourced):
    """Readings that earn a credit: at least `min_mg_per_l` over `hours`, or at `doses` doses."""

    min_mg_per_l: Positive
    hours: CountingNumber | None = None
    doses: CountingNumber | None = None


@dataclass(frozen=True, kw_only=True)
class Bath(Sourced):
    """How long one mixed bath may serve lots in turn, and the share of its target below which it is spent."""

    discard_after_s: CountingNumber
    discard_below_share: Share


@dataclass(frozen=True, kw_only=True)
class CreditGroup:
    """Share of these pests' stages that the treatment kills.

    `grade` is the evidence for the kill: A published for the group at such a dose, B published for another
    group or dose, C reports without control, D assumption.
    """

    pests: tuple[str, ...]
    stages: tuple[Stage, ...]
    kill: Share
    grade: EfficacyGrade
    source: str
    needs_measured_course: bool = False


@dataclass(frozen=True, kw_only=True)
class Neutraliser(Sourced):
    """What makes the spent bath harmless; mg of it per mg of substance where no other rule computes it."""

    material: str
    agent: str | None = None
    purpose: Literal["disposal"]
    mg_per_mg: Positive | None = None
    with_material: str | None = None
    note: str


@dataclass(frozen=True, kw_only=True)
class Residue(Sourced):
    """What stays on plants and in tubs afterwards, and the reading below which it counts as gone."""

    kind: Literal[Substance, "none"]
    limit: Concentration | None = None


@dataclass(frozen=True, kw_only=True)
class Protocol(Sourced):
    """One version of a written treatment; the source and grade are those of the treatment as a whole."""

    code: str
    version: CountingNumber
    method: Method
    name: str
    summary: str
    substance: Substance | None = None
    target: Target | None = None
    steps: tuple[Step, ...]
    water_change: WaterChange | None = None
    aftercare: WaterChange
    maintained_dose: MaintainedDose | None = None
    adults_credited_after: AdultsCreditedAfter | None = None
    measured_course: tuple[MeasuredCourse, ...] = ()
    bath: Bath | None = None
    credits: tuple[CreditGroup, ...] = ()
    soak_counts_half: bool
    avoid_wool: bool
    residue: Residue
    neutraliser: Neutraliser | None = None
    cautions: tuple[str, ...]
    protective_wear: tuple[str, ...]
    disposal: str

    def content(self) -> dict[str, Any]:
        """A fresh plain value of all fields for storing as JSON; `credits` has one row per pest and stage."""
        document: dict[str, Any] = _plain(self)
        document["credits"] = [
            {
                "pest": pest,
                "stage": stage,
                "kill": group.kill,
                "grade": group.grade,
                "source": group.source,
                "needs_measured_course": group.needs_measured_course,
            }
            for group in self.credits
            for pest in group.pests
            for stage in group.stages
        ]
        return document


def _plain(value: Any) -> Any:
    if is_dataclass(value):
        return {field.name: _plain(getattr(value, field.name)) for field in fields(value)}
    return [_plain(item) for item in value] if isinstance(value, tuple) else value
