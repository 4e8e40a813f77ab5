"""What must never meet: one verdict for every two substances, the same either way round."""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

from service.reference.problem import ReferenceProblem
from service.reference.words import Count, Positive, Sourced, Substance

Verdict = Literal["never", "rinse_between", "neutraliser", "pointless", "none"]


class UnknownSubstance(LookupError):
    """A substance that the table says nothing about: treat it as one that must never meet another."""


@dataclass(frozen=True, kw_only=True)
class WayOut:
    """What must be recorded before the second material may follow on the same plants.

    `first` is the substance that was used first (None: either). After the rinses, `measure` must be below
    `below` (total chlorine in mg/L) or within `within` of the source water (pH units).
    """

    first: Substance | None = None
    rinses: Count
    measure: Literal["total_chlorine", "ph", "colour_gone"] | None = None
    below: Positive | None = None
    within: Positive | None = None


@dataclass(frozen=True, kw_only=True)
class Incompatibility(Sourced):
    """The verdict on two substances.

    `never`: not together, nor as wet residue, in one waste bucket, on one shelf. `rinse_between`: not in
    one bath. `neutraliser`: meant to meet, but only diluted, up to `limit_mg_per_l` of `a`. `pointless`:
    one undoes the other. `none`: no hazard known.
    """

    a: Substance
    b: Substance
    verdict: Verdict
    reason: str
    limit_mg_per_l: Positive | None = None
    ways_out: tuple[WayOut, ...] = ()


@dataclass(frozen=True, kw_only=True)
class NoHazardKnown(Sourced):
    """Pairs that need no words of their own."""

    reason: str
    pairs: tuple[tuple[Substance, Substance], ...]


@dataclass(frozen=True)
class Incompatibilities:
    """The whole table."""

    pairs: Mapping[frozenset[str], Incompatibility]

    def between(self, a: str, b: str) -> Incompatibility:
        """The entry of two substances, in either order; raises `UnknownSubstance`."""
        try:
            return self.pairs[frozenset((a, b))]
        except KeyError:
            raise UnknownSubstance(f"no verdict on {a} with {b}") from None

    def verdict(self, a: str, b: str) -> Verdict:
        """The verdict on two substances, in either order; raises `UnknownSubstance`."""
        return self.between(a, b).verdict

    def never_with(self, substance: str) -> frozenset[str]:
        """The substances that must never meet this one."""
        found = [pair for pair, entry in self.pairs.items() if entry.verdict == "never" and substance in pair]
        return frozenset(other for pair in found for other in pair - {substance})


def incompatibilities_of(
    file: str, entries: tuple[Incompatibility, ...], no_hazard: NoHazardKnown
) -> Incompatibilities:
    """The table from its entries; refuses a pair that occurs twice, in whatever order."""
    harmless = [
        Incompatibility(
            a=a, b=b, verdict="none", reason=no_hazard.reason, source=no_hazard.source, grade=no_hazard.grade
        )
        for a, b in no_hazard.pairs
    ]
    pairs: dict[frozenset[str], Incompatibility] = {}
    for entry in (*entries, *harmless):
        pair = frozenset((entry.a, entry.b))
        if pair in pairs:
            raise ReferenceProblem(file, f"{entry.a} + {entry.b}", "b", "this pair occurs twice")
        pairs[pair] = entry
    return Incompatibilities(pairs)
