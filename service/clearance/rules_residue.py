"""What a treatment may have left on plants and in their water, and what shows that it is gone."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta

from service.protocols.rules import Residue

FULL_CHANGE = 0.9  # a change of this share counts as full: a little water always stays
NEUTRALISED = frozenset({"chlorine", "permanganate"})  # oxidisers that a rinse alone does not take off
RINSES = 3  # or so many full rinses: 3000 mg/L with 2 % carried over comes to 0.02 mg/L


@dataclass(frozen=True)
class ResidueFacts:
    """Copper or an unknown treatment by the supplier lingers; what else `clings` is to be rinsed off.

    `lingering_since` is the last dose of copper or the receipt after an unknown treatment, None when there
    was neither. The policy's figures: `full_changes` over `over`, copper at most `copper_mg_per_l`.
    """

    lingering_since: datetime | None
    clings: Sequence[str]
    full_changes: int
    over: timedelta
    copper_mg_per_l: float

    @property
    def needed(self) -> str:
        """In words."""
        if self.lingering_since is not None:
            return (
                f"{self.full_changes} full water changes over {self.over.days} days, "
                f"copper at most {self.copper_mg_per_l:g} mg/L"
            )
        return "baths neutralised and rinsed"


@dataclass(frozen=True)
class Washed:
    """Water changes (moment, share) of the tubs the lot stood in, and copper readings (moment, mg/L)."""

    changes: Sequence[tuple[datetime, float]]
    copper: Sequence[tuple[datetime, float]]

    def full_since(self, moment: datetime) -> list[datetime]:
        """The full changes after a moment, in order."""
        return sorted(at for at, share in self.changes if at > moment and share >= FULL_CHANGE)


@dataclass(frozen=True)
class Left:
    """What is not gone yet."""

    detail: str
    have: str
    when: datetime | None = None


def clinging(washed: Sequence[Residue]) -> list[str]:
    """The substances of our baths that still cling; copper is judged by water changes and readings."""
    return [found.substance for found in washed if found.substance != "copper" and not _is_off(found)]


def _is_off(found: Residue) -> bool:
    if found.substance in NEUTRALISED:
        return found.neutralised or found.rinses >= RINSES
    return found.rinses > 0


def residue_left(facts: ResidueFacts, washed: Washed, at: datetime) -> Left | None:
    """What may still be there at a moment, None when nothing is."""
    if facts.clings:
        substances = ", ".join(facts.clings)
        return Left(f"Not neutralised and rinsed off yet: {substances}.", substances)
    if facts.lingering_since is None:
        return None
    return _lingering(facts, facts.lingering_since, washed, at)


def _lingering(facts: ResidueFacts, since: datetime, washed: Washed, at: datetime) -> Left | None:
    changes = washed.full_since(since)
    have = f"{len(changes)} full changes in {(at - since).days} days"
    if len(changes) < facts.full_changes:
        detail = f"{len(changes)} full water changes since the last dose; {facts.full_changes} are needed."
        return Left(detail, have)
    if at < since + facts.over:
        detail = f"The water is to be changed over {facts.over.days} days after the last dose."
        return Left(detail, have, since + facts.over)
    readings = sorted(
        (moment, value) for moment, value in washed.copper if moment >= changes[facts.full_changes - 1]
    )
    if not readings:
        return Left("No copper reading since the last full change that is needed: test the water.", have)
    if readings[-1][1] > facts.copper_mg_per_l:
        value = f"{readings[-1][1]:g} mg/L"
        return Left(f"Copper reads {value}; at most {facts.copper_mg_per_l:g} is allowed.", value)
    return None
