"""What tracing rests on: who was in which water when, splits, and where tools went."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

NEVER = datetime.max.replace(tzinfo=UTC)
TICK = timedelta(microseconds=1)  # moments are kept to the microsecond


@dataclass(frozen=True)
class Place:
    """A lot in one water from..to (`NEVER` while it lasts); without a tub it is a transport bag."""

    lot: str
    water: str
    tub: str | None
    since: datetime
    until: datetime


@dataclass(frozen=True)
class Split:
    """A lot was split off another."""

    parent: str
    child: str
    at: datetime


@dataclass(frozen=True)
class Use:
    """A tool touched a water, or the lots of a water were dipped into a bath (the bath is the tool)."""

    id: str
    tool: str
    water: str
    tub: str
    at: datetime
    recorded_at: datetime
    is_bath: bool = False


@dataclass(frozen=True)
class Cleaning:
    """A tool was disinfected by a method that breaks the contact."""

    tool: str
    at: datetime
    recorded_at: datetime


@dataclass(frozen=True)
class Facts:
    """What is known around some lots: every place in their waters, and in waters that tools lead to."""

    places: Sequence[Place] = ()
    splits: Sequence[Split] = ()
    uses: Sequence[Use] = ()
    cleanings: Sequence[Cleaning] = ()
