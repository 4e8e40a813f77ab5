"""`dipledger check` and `dipledger rebuild`, as a person runs them."""

from collections.abc import Callable
from datetime import timedelta

import orjson
import pytest
from click.testing import CliRunner, Result
from sqlalchemy import delete, select, text, update

from service.cli import main
from service.core.db import Database
from service.core.settings import Settings
from service.lots.models import Lot
from service.reports.models import ConsumptionDay
from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_quarantine import quarantined, work_done
from tests.make_stores import copper

Command = Callable[..., Result]


@pytest.fixture
def dipledger(settings: Settings) -> Command:
    """The command, told by its environment which house it is about."""
    environment = {
        "DIPLEDGER_HOME": str(settings.home),
        "DIPLEDGER_DATABASE_URL": settings.database_url,
        "DIPLEDGER_SECRET_KEY": settings.secret,
        "DIPLEDGER_SIGNING_KEY_FILE": str(settings.signing_key_file),
    }
    return lambda *arguments: CliRunner().invoke(main, arguments, env=environment)


@pytest.fixture
def house(api: Api, database: Database) -> Database:
    """A lot in quarantine and a disposal, nothing owed."""
    bench = Bench(api, age=10)
    quarantined(bench, bench.tub("Q1"))
    body = {"batch_id": copper(api)["id"], "quantity": {"value": 5, "unit": "mL"}, "reason": "x"}
    api.grower.made("/stock-disposals", {**body, "way": "sewer"})
    work_done(database)
    return database


def test_what_holds_is_counted_and_the_exit_code_is_nought(dipledger: Command, house: Database) -> None:
    found = dipledger("check")
    assert found.exit_code == 0
    assert [line.partition(".")[0] for line in found.output.splitlines()] == [
        "holds  ledger: 1 checked, 0 wrong",
        "holds  rollup: 1 checked, 0 wrong",
        "holds  projection: 1 checked, 0 wrong",
        "holds  certificates: 0 checked, 0 wrong",
        "holds  standing: 0 checked, 0 wrong",
        "holds  photos: 0 checked, 0 wrong",
    ]


def test_what_fails_is_named_and_the_exit_code_is_one(dipledger: Command, house: Database) -> None:
    with house.engine.begin() as connection:
        connection.execute(text("UPDATE stock_batch SET balance = balance + 1"))
        batch = connection.execute(text("SELECT id FROM stock_batch")).scalar()
    found = dipledger("check")
    assert found.exit_code == 1
    assert found.output.startswith("fails  ledger: 1 checked, 1 wrong")
    assert f"       wrong: {batch}" in found.output.splitlines()


def test_programs_read_the_same_as_json(dipledger: Command, house: Database) -> None:
    with house.engine.begin() as connection:
        connection.execute(text("UPDATE consumption_day SET used = used + 1"))
    found = dipledger("check", "--json")
    assert found.exit_code == 1
    body = orjson.loads(found.output)
    assert not body["held"]
    assert {proof["name"]: len(proof["wrong"]) for proof in body["proofs"]} == {
        "ledger": 0,
        "rollup": 1,
        "projection": 0,
        "certificates": 0,
        "standing": 0,
        "photos": 0,
    }


def test_rebuilding_makes_rollup_and_projections_hold_again_and_is_written_down(
    dipledger: Command, api: Api, house: Database
) -> None:
    with house.writing() as session:
        session.execute(delete(ConsumptionDay))
        session.execute(update(Lot).values(next_look_at=None, release_day=None, decidable=True))
    assert dipledger("check").exit_code == 1
    found = dipledger("rebuild")
    assert (found.exit_code, found.output) == (
        0,
        "1 rows of consumption and the lots of 1 tubs computed anew.\n",
    )
    assert dipledger("check").exit_code == 0
    last = api.auditor.seen("/audit?limit=200")["items"][-1]
    assert (last["kind"], last["by"], last["after"]) == ("house.rebuilt", "command line", {"rollup_rows": 1})
    assert api.auditor.seen("/audit/check")["intact"]


def test_rebuilding_does_not_touch_what_is_no_projection(dipledger: Command, house: Database) -> None:
    with house.engine.begin() as connection:
        connection.execute(text("UPDATE stock_batch SET balance = balance + 1"))
    dipledger("rebuild")
    assert dipledger("check").exit_code == 1


def test_rebuilding_takes_away_what_no_line_of_the_ledger_gives(dipledger: Command, house: Database) -> None:
    with house.writing() as session:
        row = session.scalars(select(ConsumptionDay)).one()
        figures = {name: getattr(row, name) for name in ("material_id", "protocol", "reason", "used")}
        session.add(ConsumptionDay(day=row.day - timedelta(days=400), **figures))
    assert dipledger("check").exit_code == 1
    assert dipledger("rebuild").output.startswith("1 rows of consumption")
    assert dipledger("check").exit_code == 0


def test_a_house_without_a_ledger_has_nothing_to_rebuild(dipledger: Command, database: Database) -> None:
    assert dipledger("rebuild").output == "0 rows of consumption and the lots of 0 tubs computed anew.\n"
