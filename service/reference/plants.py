"""Plants of the trade: names, growth, how they take each treatment, where they are restricted."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal, get_args

from service.reference.problem import ReferenceProblem
from service.reference.restrictions import Restriction, restrictions_of
from service.reference.words import LookClass, Method, Sourced

Takes = Literal["tolerates", "caution", "avoid", "unknown"]
GrowthForm = Literal[
    "rhizome", "rosette", "moss", "liverwort", "stem", "carpet", "floating", "bulb", "free_floating_stem"
]


@dataclass(frozen=True, kw_only=True)
class Tolerance(Sourced):
    """How a plant takes one treatment method, as dosed by the protocol of that method."""

    method: Method
    takes: Takes
    note: str | None = None


@dataclass(frozen=True, kw_only=True)
class Plant(Sourced):
    """One kind of plant; the source and grade are those of its names. `tolerances` has every method."""

    code: str
    scientific_name: str
    synonyms: tuple[str, ...]
    trade_names: tuple[str, ...]
    growth_form: GrowthForm
    look_class: LookClass
    tolerances: Mapping[Method, Tolerance]
    restricted: tuple[Restriction, ...]


@dataclass(frozen=True, kw_only=True)
class Origin(Sourced):
    """Where one figure comes from, when it is not where the rest of the entry comes from."""


@dataclass(frozen=True, kw_only=True)
class PlantEntry:
    """A plant as the data file has it: `takes` by method, `tolerance` the usual origin of these words,
    `origins` the origin of single ones.
    """

    code: str
    scientific_name: str
    synonyms: tuple[str, ...] = ()
    trade_names: tuple[str, ...]
    growth_form: GrowthForm
    look_class: LookClass
    names: Origin
    tolerance: Origin
    takes: Mapping[Method, Takes]
    notes: Mapping[Method, str] | None = None
    origins: Mapping[Method, Origin] | None = None


def plant_of(file: str, entry: PlantEntry, restrictions: Sequence[Restriction]) -> Plant:
    """The plant of an entry; refuses an entry that says nothing about one of the methods."""
    methods: tuple[Method, ...] = get_args(Method)
    for method in methods:
        if method not in entry.takes:
            raise ReferenceProblem(file, entry.code, f"takes.{method}", "is missing")
    return Plant(
        code=entry.code,
        scientific_name=entry.scientific_name,
        synonyms=entry.synonyms,
        trade_names=entry.trade_names,
        growth_form=entry.growth_form,
        look_class=entry.look_class,
        tolerances={method: _tolerance(entry, method) for method in methods},
        restricted=restrictions_of((entry.scientific_name, *entry.synonyms), restrictions),
        source=entry.names.source,
        grade=entry.names.grade,
    )


def _tolerance(entry: PlantEntry, method: Method) -> Tolerance:
    origin = (entry.origins or {}).get(method, entry.tolerance)
    return Tolerance(
        method=method,
        takes=entry.takes[method],
        note=(entry.notes or {}).get(method),
        source=origin.source,
        grade=origin.grade,
    )
