"""Kinds of step, and what must never follow what on plants and in tubs."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol

from service.core.reasons import Reason


class Kind(StrEnum):
    """Kinds of step."""

    DIP = "dip"
    SOAK = "soak"
    NEUTRALISE = "neutralise"
    RINSE = "rinse"
    HOLD = "hold"


BATHS = frozenset({Kind.DIP, Kind.SOAK})
DOSED = frozenset({Kind.DIP, Kind.SOAK, Kind.NEUTRALISE})
FULL_CHANGE = 0.9  # a water change of this share or more counts as a rinse; assumption


class WayOut(Protocol):
    """What must be recorded before the second of two substances may follow the first."""

    @property
    def first(self) -> str | None:
        """The substance that came first; None: either."""
        ...

    @property
    def rinses(self) -> int:
        """Rinses between them."""
        ...

    @property
    def measure(self) -> str | None:
        """What is measured in the last rinse."""
        ...

    @property
    def below(self) -> float | None:
        """The reading, in mg/L, that the last rinse must stay below."""
        ...


class Entry(Protocol):
    """The verdict on two substances."""

    @property
    def verdict(self) -> str:
        """`never`, `rinse_between`, `neutraliser`, `pointless` or `none`."""
        ...

    @property
    def reason(self) -> str:
        """Why, in a sentence."""
        ...

    @property
    def ways_out(self) -> Sequence[WayOut]:
        """What undoes the danger."""
        ...


Between = Callable[[str, str], Entry]


@dataclass(frozen=True)
class Washing:
    """One thing that happened to the water round plants or in a tub.

    `kind`: `bath` (a substance was put in: dip, soak, neutralise), `rinse` (a finished rinse or a full water
    change) or `reading` (of `substance`, in mg/L).
    """

    kind: str
    substance: str | None = None
    mg_per_l: float | None = None


@dataclass(frozen=True)
class Residue:
    """A substance that may still cling: rinses since its last bath, whether it was neutralised and rinsed.

    `mg_per_l` is the last reading after the last rinse, None when nothing was measured.
    """

    substance: str
    rinses: int = 0
    neutralised: bool = False
    mg_per_l: float | None = None


def residues(washings: Sequence[Washing], between: Between) -> list[Residue]:
    """What may still cling after these washings (in the order of time), by substance."""
    last: dict[str, int] = {}
    for place, washing in enumerate(washings):
        if washing.kind == "bath" and washing.substance:
            last[washing.substance] = place
    return [_residue(substance, washings[place + 1 :], between) for substance, place in sorted(last.items())]


def _residue(substance: str, after: Sequence[Washing], between: Between) -> Residue:
    agents = [
        place
        for place, washing in enumerate(after)
        if washing.kind == "bath"
        and washing.substance
        and between(substance, washing.substance).verdict == "neutraliser"
    ]
    rinses = [place for place, washing in enumerate(after) if washing.kind == "rinse"]
    readings = [
        washing.mg_per_l
        for place, washing in enumerate(after)
        if washing.kind == "reading" and washing.substance == substance and (not rinses or place > rinses[-1])
    ]
    neutralised = bool(agents and rinses and rinses[-1] > agents[0])
    return Residue(substance, len(rinses), neutralised, readings[-1] if readings else None)


def sequence_reasons(clinging: Sequence[Residue], substance: str, between: Between) -> list[Reason]:
    """Why `substance` may not follow what still clings; empty when it may."""
    return [
        Reason(
            "unsafe-sequence",
            f"{_name(residue.substance)} may still cling, and must not meet {_name(substance).lower()}: "
            f"{entry.reason} {_way_out_words(residue, entry)}",
            needed=_way_out_words(residue, entry),
            have=f"{residue.rinses} rinses",
        )
        for residue in clinging
        for entry in (between(residue.substance, substance),)
        if entry.verdict in {"never", "rinse_between"} and not _is_out(residue, entry)
    ]


def planned_reasons(
    washings: Sequence[Washing], steps: Sequence[tuple[str, str | None]], between: Between
) -> list[Reason]:
    """Why a treatment of these steps (kind, substance) may not follow the washings.

    Its own rinses and neutralising count for the steps after them.
    """
    so_far = list(washings)
    found: list[Reason] = []
    for kind, substance in steps:
        if substance is not None:
            found += sequence_reasons(residues(so_far, between), substance, between)
        if substance is not None:
            so_far.append(Washing("bath", substance))
        elif kind == Kind.RINSE:
            so_far.append(Washing("rinse"))
    return list({reason.detail: reason for reason in found}.values())


def _is_out(residue: Residue, entry: Entry) -> bool:
    if residue.neutralised:
        return True
    way = _way_out(residue, entry)
    if way is None or residue.rinses < way.rinses:
        return False
    # The pH of the source water and a colour are judged by the person; chlorine is read from a test.
    return way.below is None or (residue.mg_per_l is not None and residue.mg_per_l < way.below)


def _way_out(residue: Residue, entry: Entry) -> WayOut | None:
    return next((way for way in entry.ways_out if way.first in {None, residue.substance}), None)


def _way_out_words(residue: Residue, entry: Entry) -> str:
    way = _way_out(residue, entry)
    if way is None:
        return "There is no way out: use other plants and another tub."
    rinses = "1 rinse" if way.rinses == 1 else f"{way.rinses} rinses"
    if way.below is not None:
        return f"Record {rinses} and a reading below {way.below:g} mg/L, or a neutralising step and a rinse."
    also = {"ph": ", the pH back to that of the source water", "colour_gone": ", the colour gone"}
    return f"Record {rinses}{also.get(way.measure or '', '')}."


def _name(substance: str) -> str:
    return substance.replace("_", " ").capitalize()
