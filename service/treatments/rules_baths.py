"""Whether a mixed bath may take the next lot."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from service.core.reasons import Reason


@dataclass(frozen=True)
class BathFacts:
    """A bath as it stands: `readings` in mg/L by moment, `plants` what has been in it so far.

    `least_share` of the target is what the protocol asks a bath to hold at least.
    """

    mixed_at: datetime
    discard_at: datetime
    discarded_at: datetime | None
    target_mg_per_l: float
    mixed_mg_per_l: float
    least_share: float
    plant_load_limit: int | None
    readings: Sequence[tuple[datetime, float]]
    plants: int

    def holds_mg_per_l(self, at: datetime) -> float:
        """What is known to be in it at `at`: the last reading, else what was poured."""
        known = [value for moment, value in self.readings if moment <= at]
        return known[-1] if known else self.mixed_mg_per_l


def bath_reasons(bath: BathFacts, at: datetime) -> list[Reason]:
    """Why the bath takes no lot at `at`."""
    return list(_bath_reasons(bath, at))


def load_reasons(bath: BathFacts, plants: int) -> list[Reason]:
    """Why so many more plants are too many for it."""
    limit = bath.plant_load_limit
    if limit is None or bath.plants + plants <= limit:
        return []
    detail = f"The bath takes {limit} plants; {bath.plants} were in it, {plants} more are too many."
    return [Reason("bath-plant-load", detail, str(limit), str(bath.plants + plants))]


def suits_reasons(content: Mapping[str, Any], step: Mapping[str, Any]) -> list[Reason]:
    """Why a step is not one for a bath: its protocol says how long a bath keeps, and it takes a material."""
    if not content.get("bath"):
        detail = "The protocol does not say when a bath of it is thrown away: mix for each lot."
        return [Reason("not-for-a-bath", detail, needed="bath of the protocol")]
    if not step.get("material"):
        return [Reason("not-for-a-bath", "This step takes no material: there is nothing to mix.")]
    return []


def _bath_reasons(bath: BathFacts, at: datetime) -> Iterator[Reason]:
    if bath.discarded_at is not None:
        yield Reason("bath-discarded", "The bath was thrown away: mix another.")
    if at < bath.mixed_at:
        yield Reason("bath-not-mixed", "The bath was not mixed yet at that moment.")
    if at > bath.discard_at:
        detail = "The bath is too old: mix another."
        yield Reason("bath-too-old", detail, bath.discard_at.isoformat(), at.isoformat())
    held, least = bath.holds_mg_per_l(at), bath.least_share * bath.target_mg_per_l
    if held < least:
        detail = f"The bath holds {held:g} mg/L, below {bath.least_share:.0%} of its target: mix another."
        yield Reason("bath-too-weak", detail, f"{least:g} mg/L", f"{held:g} mg/L")
