"""A long list of ids is one value of a statement."""

from sqlalchemy import select

from service.catalogue.models import Plant
from service.core.among import FEW, among
from service.core.db import Database
from service.core.ids import new_id

MOST_OF_POSTGRESQL = 65_535  # parameters of one statement: 16 bits in its protocol (PostgreSQL manual, 55.7)


def test_more_ids_than_a_database_binds_are_found_among(database: Database) -> None:
    with database.reading() as session:
        known = set(session.scalars(select(Plant.id)))
        assert known
        for many in (0, FEW, MOST_OF_POSTGRESQL + 1):
            asked = known | {new_id() for _ in range(many)}
            assert set(session.scalars(select(Plant.id).where(among(Plant.id, asked)))) == known


def test_among_none_is_nothing(database: Database) -> None:
    with database.reading() as session:
        assert session.scalars(select(Plant.id).where(among(Plant.id, ()))).all() == []
