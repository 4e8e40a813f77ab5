"""Which water a tub had when: its own, or that of the water system it was part of."""

from collections import defaultdict
from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise

from sqlalchemy import Row, or_, select
from sqlalchemy.orm import Session

from service.core.among import among_bound, listed
from service.tubs.models import FormerWater, Tub

BEGINNING = datetime.min.replace(tzinfo=UTC)
NEVER = datetime.max.replace(tzinfo=UTC)


@dataclass(frozen=True)
class Spell:
    """A tub had this water from one moment up to another (not included)."""

    water: str
    since: datetime
    until: datetime


Waters = Mapping[str, Sequence[Spell]]
# Built once, because acts and traces ask it again and again.
_NOW_AND_BEFORE = (
    select(Tub.id, Tub.water_system_id, FormerWater.until, FormerWater.water_system_id.label("before"))
    .outerjoin(FormerWater, FormerWater.tub_id == Tub.id)
    .where(among_bound(Tub.id, "ids"))
    .order_by(FormerWater.until, FormerWater.id)
)


def waters_of(session: Session, tub_ids: Collection[str]) -> dict[str, list[Spell]]:
    """The water of these tubs over all time, and of every tub that was ever part of one system with them.

    What a system's tubs were part of before or after counts too, so that no water is told in part.
    """
    current: dict[str, str | None] = {}
    former: dict[str, list[tuple[datetime, str | None]]] = defaultdict(list)
    wanted = set(tub_ids)
    while wanted:
        rows = _now_and_before(session, wanted)
        current |= {row.id: row.water_system_id for row in rows}
        for row in rows:
            if row.until is not None:
                former[row.id].append((row.until, row.before))
        systems = {row.water_system_id for row in rows} | {row.before for row in rows}
        systems -= {None}
        wanted = _ever_in(session, systems) - set(current) if systems else set()
    return {tub: list(_spells(tub, system, former[tub])) for tub, system in current.items()}


def one_water(waters: Waters, tub_ids: Collection[str]) -> set[str]:
    """Of the tubs of `waters` those whose water is now one with that of these, themselves included."""
    own = {waters[tub][-1].water for tub in set(tub_ids) & set(waters)}
    return {tub for tub, spells in waters.items() if spells[-1].water in own}


def water_at(spells: Sequence[Spell], at: datetime) -> str:
    """The water of a tub at a moment."""
    return next(spell.water for spell in spells if spell.since <= at < spell.until)


def tubs_of_one_water(session: Session, tub_id: str, at: datetime) -> list[str]:
    """The tubs whose water was one with that of a tub at a moment, itself included, by id."""
    waters = waters_of(session, [tub_id])
    water = water_at(waters[tub_id], at)
    return sorted(tub for tub, spells in waters.items() if water_at(spells, at) == water)


def _spells(
    tub_id: str, system: str | None, former: Sequence[tuple[datetime, str | None]]
) -> Iterator[Spell]:
    edges = [(BEGINNING, None), *former, (NEVER, system)]
    for (since, _), (until, was) in pairwise(edges):
        yield Spell(was or tub_id, since, until)


def _now_and_before(
    session: Session, tub_ids: Collection[str]
) -> Sequence[Row[str, str | None, datetime | None, str | None]]:
    return session.connection().execute(_NOW_AND_BEFORE, {"ids": listed(tub_ids)}).all()


def _ever_in(session: Session, systems: Collection[str | None]) -> set[str]:
    now = select(Tub.id).where(Tub.water_system_id.in_(systems))
    before = select(FormerWater.tub_id).where(FormerWater.water_system_id.in_(systems))
    return set(session.scalars(select(Tub.id).where(or_(Tub.id.in_(now), Tub.id.in_(before)))))
