"""Reading tubs: their rows, their water, and the log of their temperatures and measurements."""

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from decimal import Decimal
from typing import Protocol

from sqlalchemy import ColumnElement, and_, bindparam, func, or_, select
from sqlalchemy.orm import Session

from service.core.errors import NotFound
from service.core.rows import Listing, Made, Rows, of
from service.science.amounts import Amount
from service.science.readings import Reading
from service.tubs.models import Measurement, TemperatureReading, Tub, WaterSystem

RECENT = timedelta(days=7)


class InTub(Protocol):
    """A time in a tub, such as a lot's stay."""

    @property
    def tub_id(self) -> str: ...  # noqa: D102  # the words say it

    @property
    def entered_at(self) -> datetime: ...  # noqa: D102

    @property
    def left_at(self) -> datetime | None: ...  # noqa: D102


@dataclass(frozen=True)
class Measured:
    """What a kit read: mg/L (or pH), and the least that this kit can see."""

    at: datetime
    value: float
    kit: str
    kit_limit: float | None


def tub_by_id(session: Session, tub_id: str, *, lock: bool = False) -> Tub:
    """One tub; raises NotFound."""
    found = session.get(Tub, tub_id, with_for_update=lock or None)
    if found is None:
        raise NotFound("tub")
    return found


def readings(session: Session, tub_id: str, start: datetime, end: datetime) -> list[Reading]:
    """The valid temperatures of a tub from `start` to `end`, both included, in order."""
    return readings_since(session, {tub_id: start}, end)[tub_id]


def readings_since(
    session: Session, since: Mapping[str, datetime], end: datetime
) -> dict[str, list[Reading]]:
    """The valid temperatures of each tub from its moment to `end`, both included, in order."""
    found: dict[str, list[Reading]] = {tub_id: [] for tub_id in since}
    until = TemperatureReading.at <= end
    if since:
        for tub_id, at, celsius in _rows(
            session, [_between(tub_id, until, start) for tub_id, start in since.items()]
        ):
            found[tub_id].append(Reading(at, celsius))
    return found


def temperature_log(session: Session, stays: Iterable[InTub]) -> list[Reading]:
    """The temperatures a lot went through, following it from tub to tub, in order.

    Readings count from the moment it went into a tub until before it left it; where stays overlap,
    the later stay's reading stands.
    """
    ordered = sorted(stays, key=lambda stay: stay.entered_at)
    if not ordered:
        return []
    rows = _rows(session, [_within(stay) for stay in ordered])
    course: dict[datetime, float] = {}
    for stay in ordered:
        course.update(
            (at, celsius)
            for tub_id, at, celsius in rows
            if tub_id == stay.tub_id and stay.entered_at <= at and (stay.left_at is None or at < stay.left_at)
        )
    return [Reading(at, course[at]) for at in sorted(course)]


def forecast_c(session: Session, tub: Tub, now: datetime) -> float | None:
    """The temperature to count on, °C: the mean of the last seven days, else the set point, else None."""
    return forecasts_c(session, [tub], now)[tub.id]


def forecasts_c(session: Session, tubs: Sequence[Tub], now: datetime) -> dict[str, float | None]:
    """`forecast_c` of each tub."""
    at, tub_id = TemperatureReading.at, TemperatureReading.tub_id
    recent = select(tub_id, func.avg(TemperatureReading.celsius)).where(
        tub_id.in_([tub.id for tub in tubs]),
        TemperatureReading.voided_at.is_(None),
        at.between(now - RECENT, now),
    )
    means = {found: mean for found, mean in session.execute(recent.group_by(tub_id))}
    return {tub.id: float(means[tub.id]) if tub.id in means else tub.set_point_c for tub in tubs}


def measurements(
    session: Session, tub_id: str, substance: str, start: datetime, end: datetime
) -> list[Measured]:
    """What kits read of one substance from `start` to `end`, both included, in order."""
    rows = session.execute(
        select(Measurement.at, Measurement.value, Measurement.kit, Measurement.kit_limit)
        .where(
            Measurement.tub_id == tub_id,
            Measurement.substance == substance,
            Measurement.at.between(start, end),
            Measurement.voided_at.is_(None),
        )
        .order_by(Measurement.at, Measurement.id)
    ).all()
    return [Measured(*row) for row in rows]


def litres(volume_l: float) -> Amount:
    """A volume as answered."""
    return Amount(Decimal(repr(volume_l)), "L")


def degrees(celsius: float | None) -> Amount | None:
    """A set point as answered."""
    return None if celsius is None else Amount(Decimal(repr(celsius)), "Cel")


TUB = Rows(
    {
        **of(Tub, "id", "code", "place"),
        "volume": Made(litres, (Tub.volume_l,)),
        "set_point": Made(degrees, (Tub.set_point_c,)),
        **of(Tub, "water_system_id", "filling_since", "active", "created_at", "version"),
    }
)
TUBS = Listing(TUB, ("code",))
WATER_SYSTEM = Rows(of(WaterSystem, "id", "name", "created_at", "version"))
WATER_SYSTEMS = Listing(WATER_SYSTEM, ("id",))


def water_system_by_id(session: Session, system_id: str) -> WaterSystem:
    """One water system; raises NotFound."""
    found = session.get(WaterSystem, system_id)
    if found is None:
        raise NotFound("water system")
    return found


def unit_of(substance: str) -> str:
    """The unit of what a kit read: a pH has none, which is 1."""
    return "1" if substance == "ph" else "mg/L"


MEASUREMENT = Rows(
    {
        **of(Measurement, "id", "tub_id", "at", "substance", "value"),
        "unit": Made(unit_of, (Measurement.substance,)),
        **of(Measurement, "kit", "kit_limit", "recorded_at", "by"),
    },
    lambda found: found.where(Measurement.voided_at.is_(None)),
)
MEASUREMENTS = Listing(
    MEASUREMENT,
    ("at", "id"),
    {
        "tub": Measurement.tub_id == bindparam("tub"),
        "substance": Measurement.substance == bindparam("substance"),
    },
)


def _between(tub_id: str, until: ColumnElement[bool], start: datetime) -> ColumnElement[bool]:
    return and_(
        TemperatureReading.tub_id == tub_id,
        TemperatureReading.voided_at.is_(None),
        TemperatureReading.at >= start,
        until,
    )


def _within(stay: InTub) -> ColumnElement[bool]:
    here = and_(
        TemperatureReading.tub_id == stay.tub_id,
        TemperatureReading.voided_at.is_(None),
        TemperatureReading.at >= stay.entered_at,
    )
    return here if stay.left_at is None else and_(here, TemperatureReading.at < stay.left_at)


def _rows(session: Session, wanted: Sequence[ColumnElement[bool]]) -> Sequence[tuple[str, datetime, float]]:
    found = session.execute(
        select(TemperatureReading.tub_id, TemperatureReading.at, TemperatureReading.celsius)
        .where(or_(*wanted))
        .order_by(TemperatureReading.at)
    ).all()
    return [(row.tub_id, row.at, row.celsius) for row in found]
