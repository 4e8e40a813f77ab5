"""Reads the data folder into one `Reference`."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import Protocol as Structure
from typing import TypeVar

from service.reference.cautions import Caution
from service.reference.detection import Detection, DetectionRow, refuse_gaps
from service.reference.incompatibilities import (
    Incompatibilities,
    Incompatibility,
    NoHazardKnown,
    incompatibilities_of,
)
from service.reference.materials import Material
from service.reference.pests import Pest
from service.reference.plants import Plant, PlantEntry, plant_of
from service.reference.policies import Policy
from service.reference.problem import ReferenceProblem
from service.reference.protocols import Protocol
from service.reference.restrictions import Restriction
from service.reference.shape import Place, read_list, read_table, read_value

DATA = Path(__file__).parent / "data"


class Coded(Structure):
    """Anything that is known by its code."""

    @property
    def code(self) -> str:
        """The code."""


C = TypeVar("C", bound=Coded)


@dataclass(frozen=True)
class Reference:
    """All reference data of one `version`; mappings are by code."""

    version: str
    pests: Mapping[str, Pest]
    detection: Detection
    restrictions: tuple[Restriction, ...]
    plants: Mapping[str, Plant]
    materials: Mapping[str, Material]
    incompatibilities: Incompatibilities
    protocols: Mapping[str, Protocol]
    policies: Mapping[str, Policy]
    cautions: tuple[Caution, ...]

    def sheet_cautions(self, *substances: str) -> tuple[str, ...]:
        """The sentences a mixing sheet with these substances prints."""
        return self._sentences("sheet", substances)

    def statement_cautions(self) -> tuple[str, ...]:
        """The sentences every clearance statement prints."""
        return self._sentences("statement", ())

    def _sentences(self, paper: str, substances: tuple[str, ...]) -> tuple[str, ...]:
        return tuple(
            caution.text
            for caution in self.cautions
            if paper in caution.shown_on
            and (not caution.substances or set(caution.substances) & set(substances))
        )


def load(folder: Path = DATA) -> Reference:
    """All reference data in `folder`; raises `ReferenceProblem` naming file, entry and field."""
    restrictions = _restrictions(folder)
    return Reference(
        version=_version(folder),
        pests=_coded(folder, "pests", Pest),
        detection=_detection(folder),
        restrictions=restrictions,
        plants=_plants(folder, restrictions),
        materials=_coded(folder, "materials", Material),
        incompatibilities=_incompatibilities(folder),
        protocols=_coded(folder, "protocols", Protocol),
        policies=_coded(folder, "policies", Policy),
        cautions=tuple(_coded(folder, "cautions", Caution).values()),
    )


@cache
def shipped() -> Reference:
    """The data that the service comes with, read once; what it holds must not be changed."""
    return load()


def _coded(folder: Path, noun: str, shape: type[C]) -> dict[str, C]:
    file = f"{noun}.toml"
    entries = _document(folder, file, noun)[noun]
    return {entry.code: entry for entry in read_list(shape, entries, Place(file, "", noun), key=("code",))}


def _version(folder: Path) -> str:
    file = "version.toml"
    version: str = read_value(str, _document(folder, file, "version")["version"], Place(file, "", "version"))
    return version


def _detection(folder: Path) -> Detection:
    file = "detection.toml"
    document = _document(folder, file, "general", "rows")
    general = read_table(Detection, document["general"], Place(file, "general"))
    rows = read_list(DetectionRow, document["rows"], Place(file, "", "rows"), key=("code",))
    detection = replace(general, rows=rows)
    refuse_gaps(file, detection)
    return detection


def _restrictions(folder: Path) -> tuple[Restriction, ...]:
    file = "restrictions.toml"
    place = Place(file, "", "restrictions")
    entries = _document(folder, file, "restrictions")["restrictions"]
    return read_list(Restriction, entries, place, key=("jurisdiction", "scientific_name"))


def _plants(folder: Path, restrictions: tuple[Restriction, ...]) -> dict[str, Plant]:
    entries = _coded(folder, "plants", PlantEntry)
    return {code: plant_of("plants.toml", entry, restrictions) for code, entry in entries.items()}


def _incompatibilities(folder: Path) -> Incompatibilities:
    file = "incompatibilities.toml"
    document = _document(folder, file, "pairs", "no_hazard_known")
    pairs = read_list(Incompatibility, document["pairs"], Place(file, "", "pairs"), key=("a", "b"))
    no_hazard = read_table(NoHazardKnown, document["no_hazard_known"], Place(file, "no_hazard_known"))
    return incompatibilities_of(file, pairs, no_hazard)


def _document(folder: Path, file: str, *parts: str) -> dict[str, object]:
    try:
        document = tomllib.loads((folder / file).read_text(encoding="utf-8"))
    except tomllib.TOMLDecodeError as refusal:
        raise ReferenceProblem(file, "", "", f"is not TOML: {refusal}") from refusal
    for part in sorted(document.keys() ^ set(parts)):
        raise ReferenceProblem(file, "", part, "is missing" if part in parts else "is not a known part")
    return document
