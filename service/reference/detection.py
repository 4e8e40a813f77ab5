"""How well a look finds a pest: sensitivities of eyes, strain and bait per pest and stage."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import get_args

from service.reference.problem import ReferenceProblem
from service.reference.words import CountingNumber, LookClass, Positive, Share, Sourced, Stage


@dataclass(frozen=True, kw_only=True)
class DetectionRow(Sourced):
    """Chance that one look finds what is there, for these pests at these stages.

    `eyes` is per plant looked at, `strain` (old water through a mesh, residue in a white tray) and `bait`
    per tub, bait for `Detection.bait_animals` animals or more. `never_seen_share` is the share of animals
    that no number of looks would show.
    """

    code: str
    pests: tuple[str, ...]
    stages: tuple[Stage, ...]
    eyes: Mapping[LookClass, Share]
    strain: Share
    bait: Share
    never_seen_share: Share


@dataclass(frozen=True, kw_only=True)
class LookTime(Sourced):
    """Seconds that a thorough look at one plant takes, by how hard the plant is to look through."""

    seconds_per_unit: Mapping[LookClass, Positive]


@dataclass(frozen=True, kw_only=True)
class Detection(Sourced):
    """All sensitivities; the source and grade are those of the words on bait and wool.

    Plants kept in wool are looked at as `kept_in_wool` says.
    """

    bait_animals: CountingNumber
    kept_in_wool: LookClass
    look_time: LookTime
    rows: tuple[DetectionRow, ...] = ()

    def row(self, pest: str, stage: str) -> DetectionRow | None:
        """The row of a pest's stage, or None where no look is meant to find it."""
        return next((row for row in self.rows if pest in row.pests and stage in row.stages), None)


def refuse_gaps(file: str, detection: Detection) -> None:
    """Refuse a row that leaves out one kind of plant."""
    figures = [("look_time", "seconds_per_unit", detection.look_time.seconds_per_unit)]
    figures += [(row.code, "eyes", row.eyes) for row in detection.rows]
    for entry, field, by_look_class in figures:
        for look_class in get_args(LookClass):
            if look_class not in by_look_class:
                raise ReferenceProblem(file, entry, f"{field}.{look_class}", "is missing")
