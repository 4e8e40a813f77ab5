"""Migrations: empty to head, no difference to the models, all the way down and up again."""

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import Connection, create_engine, inspect, select, text
from sqlalchemy.exc import DBAPIError

from service import models
from service.core.db import Database, UtcDateTime
from service.core.ids import new_id
from service.core.migrations import downgrade, upgrade
from service.journal.actions import record
from service.journal.acts import Act
from service.stores.models import Material, StockBatch, StockEntry
from tests.house import Templates


@pytest.fixture
def empty(database_kind: str, templates: Templates, tmp_path: Path) -> Iterator[str]:
    with templates.empty(database_kind, f"e{new_id().replace('-', '')}", tmp_path) as url:
        yield url


@contextmanager
def connected(url: str) -> Iterator[Connection]:
    engine = create_engine(url)
    with engine.connect() as connection:
        yield connection
    engine.dispose()


@pytest.mark.promise(r=18)
def test_the_migrated_tables_are_those_of_the_models(empty: str) -> None:
    upgrade(empty)
    with connected(empty) as connection:
        context = MigrationContext.configure(connection, opts={"compare_type": _same_type})
        assert compare_metadata(context, models.Base.metadata) == []


@pytest.mark.promise(r=18)
def test_down_leaves_nothing_and_up_again_works(empty: str) -> None:
    upgrade(empty)
    downgrade(empty)
    with connected(empty) as connection:
        assert set(inspect(connection).get_table_names()) == {"alembic_version"}
    upgrade(empty)
    with connected(empty) as connection:
        assert connection.execute(text("SELECT seq FROM journal_head")).scalar() == 0


@pytest.mark.promise(r=15)
@pytest.mark.parametrize(
    ("table", "column"),
    [("journal_entry", "kind"), ("journal_subject", "subject_kind"), ("stock_entry", "reason")],
)
def test_the_database_itself_refuses_to_rewrite_history(database: Database, table: str, column: str) -> None:
    _one_line_of_stock(database)
    for statement in (f"DELETE FROM {table}", f"UPDATE {table} SET {column} = {column}"):  # noqa: S608  # fixed names
        with database.engine.connect() as connection, pytest.raises(DBAPIError, match="append-only"):
            connection.execute(text(statement))


def _one_line_of_stock(database: Database) -> None:
    now = datetime(2026, 3, 2, tzinfo=UTC)
    with database.writing() as session:
        material = session.scalars(select(Material).limit(1)).one()
        batch = StockBatch(material_id=material.id, batch_number="1", received_at=now, received=5, balance=5)
        session.add(batch)
        session.flush()
        line = {
            "reason": "receipt",
            "cause_kind": "stock_batch",
            "cause_id": batch.id,
            "at": now,
            "by": "ana",
        }
        session.add(StockEntry(batch_id=batch.id, amount=5, recorded_at=now, **line))
        record(session, Act("ana", now, now), "stock.batch_received", [batch])


def _same_type(
    _context: object, _column: object, _metadata_column: object, found: object, wanted: object
) -> bool | None:
    return False if isinstance(wanted, UtcDateTime) else None


@pytest.mark.promise(r=18)
def test_days_rolled_up_before_what_is_left_was_kept_are_owed_anew(empty: str) -> None:
    upgrade(empty, "0004")
    with connected(empty) as connection:
        row = text(
            "INSERT INTO consumption_day (day, material_id, protocol, reason, used)"
            " VALUES (:day, :material, '', 'disposal', 0)"
        )
        days = ("2026-03-02", "2026-03-03")
        connection.execute(row, [{"day": day, "material": new_id()} for day in days])
        connection.commit()
    upgrade(empty)
    with connected(empty) as connection:
        owed = connection.execute(text("SELECT kind, key FROM owed_job ORDER BY key")).all()
    assert [tuple(row) for row in owed] == [("roll_up", "2026-03-02"), ("roll_up", "2026-03-03")]


@pytest.mark.promise(r=18)
def test_the_number_of_a_plant_becomes_that_of_one_unit_and_back(empty: str) -> None:
    upgrade(empty, "0023")
    row = text(
        "INSERT INTO plant (id, code, scientific_name, trade_names, synonyms, growth_form, look_class,"
        " restricted, sku, gtin, created_at, version) VALUES (:id, :code, :code, '[]', '[]', 'moss',"
        " 'moss_fine', '[]', :sku, :gtin, '2026-03-02 09:00:00+00:00', 1)"
    )
    plants = [
        {"id": new_id(), "code": "a", "sku": None, "gtin": "6291041500213"},
        {"id": new_id(), "code": "b", "sku": "a", "gtin": None},
        {"id": new_id(), "code": "c", "sku": None, "gtin": None},
    ]
    with connected(empty) as connection:
        connection.execute(row, plants)
        connection.commit()
    upgrade(empty)
    with connected(empty) as connection:
        items = connection.execute(text("SELECT sku, unit_of_sale, gtin FROM sales_item ORDER BY sku")).all()
    assert [tuple(item) for item in items] == [("a", "pot", None), ("a-pot", "pot", "6291041500213")]
    downgrade(empty, "0023")
    with connected(empty) as connection:
        found = connection.execute(text("SELECT code, sku, gtin FROM plant ORDER BY code")).all()
    assert [tuple(item) for item in found] == [
        ("a", "a-pot", "6291041500213"),
        ("b", "a", None),
        ("c", None, None),
    ]
