"""What reading costs in statements and plans: counted, because a count says at once what a timer may hide."""

from collections.abc import Iterator
from contextlib import ExitStack, contextmanager
from typing import Any, cast

import pytest
from sqlalchemy import Connection, QueuePool, event

from service.core.db import Database
from tests.api import Api
from tests.make_lots import line, received_lots

Asked = list[tuple[str, Any]]
GROWING = ("lot", "stay", "shipment", "stock_entry", "journal_entry", "temperature_reading")
# Letting in is one statement; the rest is what the answer is made of.
STATEMENTS = {
    "/lots": 2,
    "/lots?state=received": 2,
    "/lots?ready=true": 2,
    "/lots?received_from=2026-01-01": 3,  # a day is the house's, whose time zone is read
    "/tubs": 2,
    "/shipments": 2,
    "/stock-entries": 2,
    "/stock-batches": 4,
    "/inventory": 7,
    "/audit": 3,
}
IN_ORDER = (
    "/lots?limit=2",
    "/lots?limit=2&state=received",
    "/lots?limit=2&ready=true",
    "/lots?limit=2&plant={plant}",
    "/lots?limit=2&supplier={supplier}",
    "/shipments?limit=2",
    "/stock-entries?limit=2",
    "/audit?limit=2",
)
LISTED = {"lot": "/lots", "shipment": "/shipments", "stock_entry": "/stock-entries", "tub": "/tubs"}
BY_INDEX = (*IN_ORDER, "/lots?tub={tub}", "/inventory")


@contextmanager
def noted(database: Database) -> Iterator[Asked]:
    """What is asked of the database meanwhile, with the values."""
    asked: Asked = []

    def note(_connection: Any, _cursor: Any, statement: str, bound: Any, *_more: Any) -> None:
        asked.append((statement, bound))

    event.listen(database.engine, "before_cursor_execute", note)
    yield asked
    event.remove(database.engine, "before_cursor_execute", note)


def plan(connection: Connection, statement: str, bound: Any) -> list[str]:
    """How the database would carry a statement out, were its tables large."""
    if connection.dialect.name == "sqlite":
        rows = connection.exec_driver_sql(f"EXPLAIN QUERY PLAN {statement}", bound)
        return [row[3] for row in rows]
    # These tables are so small that reading them whole is cheapest; it is left only where no index helps.
    connection.exec_driver_sql("SET enable_seqscan = off")
    found = [row[0] for row in connection.exec_driver_sql(f"EXPLAIN {statement}", bound)]
    connection.exec_driver_sql("RESET enable_seqscan")
    return found


def whole(step: str) -> bool:
    """Whether a step of a plan goes through a table that grows, without an index."""
    tables = [f"SCAN {name}" for name in GROWING] + [f"Seq Scan on {name}" for name in GROWING]
    return any(f"{table} " in f"{step} " for table in tables) and "USING" not in step


def read_two_pages(api: Api, address: str) -> None:
    """Read the first page of a list and, where there is one, the next."""
    first = api.auditor.seen(address)
    if first.get("next"):
        api.auditor.seen(f"{address}&cursor={first['next']}")


@pytest.fixture
def filled(api: Api) -> dict[str, str]:
    """A house with a few lots; what addresses need of it."""
    lots = received_lots(api, *[line(api)] * 5)
    tub = api.grower.made("/tubs", {"code": "T9", "volume": {"value": 60, "unit": "L"}})
    return {"plant": lots[0]["plant"]["id"], "supplier": lots[0]["supplier"]["id"], "tub": tub["id"]}


@pytest.mark.parametrize("address", STATEMENTS)
def test_a_hot_read_asks_as_often_as_it_must(
    api: Api, database: Database, filled: dict[str, str], address: str
) -> None:
    with noted(database) as asked:
        api.auditor.seen(address)
    assert len(asked) == STATEMENTS[address], [statement for statement, _ in asked]


@pytest.mark.parametrize("address", BY_INDEX)
def test_no_read_goes_through_a_whole_table_that_grows(
    api: Api, database: Database, filled: dict[str, str], address: str
) -> None:
    with noted(database) as asked:
        read_two_pages(api, address.format(**filled))
    with database.connect() as connection:
        steps = [step for statement, bound in asked for step in plan(connection, statement, bound)]
    assert [step for step in steps if whole(step)] == []
    assert [step for step in steps if "BLOOM FILTER" in step] == []


@pytest.mark.parametrize("address", IN_ORDER)
def test_a_page_is_read_in_its_order_and_nothing_is_sorted(
    api: Api, database: Database, filled: dict[str, str], address: str
) -> None:
    with noted(database) as asked:
        read_two_pages(api, address.format(**filled))
    with database.connect() as connection:
        listing = [each for each in asked if "LIMIT 3" in each[0]]
        steps = [step for each in listing for step in plan(connection, *each)]
    assert steps
    assert [step for step in steps if "FOR ORDER BY" in step or "Sort Key" in step] == []


@pytest.mark.parametrize("database_kind", ["postgresql"], indirect=True)
@pytest.mark.parametrize("table", LISTED)
def test_postgresql_plans_a_page_once_and_keeps_the_plan(
    api: Api, database: Database, filled: dict[str, str], table: str
) -> None:
    for _ in range(60):  # each connection of the pool in turn; a plan is kept after five
        api.auditor.seen(LISTED[table])
    generic, custom = plans(database, table)
    assert generic > custom


def plans(database: Database, table: str) -> tuple[int, int]:
    """How often the first page of a table was carried out by a plan kept, and by one made anew."""
    counted = (
        "SELECT coalesce(sum(generic_plans), 0), coalesce(sum(custom_plans), 0) FROM pg_prepared_statements"
        " WHERE statement LIKE '%% LIMIT 51' AND statement LIKE %s"
    )
    pool = cast(QueuePool, database.engine.pool)
    with ExitStack() as held:
        connections = [held.enter_context(database.connect()) for _ in range(pool.checkedin())]
        rows = [each.exec_driver_sql(counted, (f"%FROM {table} %",)).one() for each in connections]
    return sum(int(row[0]) for row in rows), sum(int(row[1]) for row in rows)
