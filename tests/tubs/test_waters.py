"""Which water a tub had when."""

from datetime import UTC, datetime

from service.core.db import Database
from service.tubs.models import FormerWater
from service.tubs.waters import BEGINNING, NEVER, Spell, tubs_of_one_water, water_at, waters_of
from tests.make_lots import tub, water_system

FIRST, SECOND = datetime(2026, 3, 2, tzinfo=UTC), datetime(2026, 3, 9, tzinfo=UTC)


def test_a_tub_that_never_changed_has_its_own_water(database: Database) -> None:
    alone = tub(database, "T1")
    with database.reading() as session:
        assert waters_of(session, [alone]) == {alone: [Spell(alone, BEGINNING, NEVER)]}
        assert waters_of(session, []) == {}


def test_all_that_was_ever_joined_is_told_each_with_its_times(database: Database) -> None:
    one, other = water_system(database, "filter 1"), water_system(database, "filter 2")
    first = tub(database, "T1", system=one)
    wanderer = tub(database, "T2")
    last = tub(database, "T3", system=other)
    with database.writing() as session:
        for system, until in ((one, FIRST), (other, SECOND)):
            session.add(FormerWater(tub_id=wanderer, water_system_id=system, until=until))
    with database.reading() as session:
        found = waters_of(session, [first])
    assert set(found) == {first, wanderer, last}
    assert found[wanderer] == [
        Spell(one, BEGINNING, FIRST),
        Spell(other, FIRST, SECOND),
        Spell(wanderer, SECOND, NEVER),
    ]
    assert [water_at(found[wanderer], at) for at in (BEGINNING, FIRST, SECOND)] == [one, other, wanderer]


def test_water_is_one_in_a_system_while_a_tub_is_part_of_it(database: Database) -> None:
    system = water_system(database)
    first, wanderer = tub(database, "T1", system=system), tub(database, "T2")
    with database.writing() as session:
        session.add(FormerWater(tub_id=wanderer, water_system_id=system, until=FIRST))
    with database.reading() as session:
        assert tubs_of_one_water(session, first, BEGINNING) == sorted([first, wanderer])
        assert tubs_of_one_water(session, first, FIRST) == [first]
        assert tubs_of_one_water(session, wanderer, FIRST) == [wanderer]
