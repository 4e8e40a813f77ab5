"""What is stored of release days: owed each night, equal to a fresh computation, in few statements."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import pytest
from sqlalchemy import event, select, update

from service.core.clock import utc_now
from service.core.db import Database
from service.core.jobs import OwedJob, outstanding
from service.lots.models import Lot
from service.quarantine.actions import SEVERAL, project_all
from service.quarantine.queries import projection, projection_differs
from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_quarantine import listed, quarantined, work_done
from tests.quarantine.test_following import winding


@pytest.fixture
def bench(api: Api) -> Bench:
    return Bench(api, age=40)


@contextmanager
def counting(database: Database) -> Iterator[list[str]]:
    statements: list[str] = []

    def note(_conn: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
        statements.append(statement)

    event.listen(database.engine, "before_cursor_execute", note)
    yield statements
    event.remove(database.engine, "before_cursor_execute", note)


def test_every_night_each_tub_is_owed_once_and_each_lot_in_none(bench: Bench, database: Database) -> None:
    tub = bench.tub("Q1")
    quarantined(bench, tub)
    quarantined(bench, tub, share_water=True)
    alone = bench.lot("anubias-barteri", 10)["id"]
    work_done(database)
    with database.writing() as session:
        project_all(session, {}, utc_now())
        owed = session.scalars(select(OwedJob).where(OwedJob.kind == SEVERAL)).all()
        assert [job.payload["keys"] for job in owed] == [sorted([tub, f"lot:{alone}"])]
    with database.writing() as session:
        project_all(session, {}, utc_now())
    with database.reading() as session:
        assert len(outstanding(session, SEVERAL)) == 1


def test_what_is_stored_is_what_the_facts_give_and_a_difference_is_named(
    bench: Bench, database: Database
) -> None:
    tub = bench.tub("Q1")
    lot = quarantined(bench, tub)
    winding(bench, tub)
    bench.logger(tub, 0, 40, 24)
    bench.look(33, lot_id=lot, sample_size=20)
    bench.look(37, lot_id=lot, sample_size=20)
    work_done(database)
    with database.writing() as session:
        assert projection_differs(session, utc_now()) == []
        found = session.get_one(Lot, lot)
        assert found.decidable
        session.execute(update(Lot).values(next_look_at=utc_now()))
        session.expire_all()
        assert projection_differs(session, utc_now()) == [found.code]


def test_many_lots_of_a_tub_are_projected_in_as_many_statements_as_one(
    bench: Bench, database: Database
) -> None:
    tub = bench.tub("Q1")
    for _ in range(3):
        quarantined(bench, tub, share_water=True)
    winding(bench, tub)
    bench.logger(tub, 0, 40, 24)
    counts = []
    for most in (1, 3):
        with database.reading() as session:
            lots = session.scalars(select(Lot).order_by(Lot.id)).all()
            with counting(database) as statements:
                projection(session, lots[:most], utc_now())
        counts.append(len(statements))
    assert counts[1] <= counts[0]  # of one alone, the stays of the others in its water are read beside


def test_a_lot_is_decidable_only_once_the_chance_is_enough(bench: Bench, database: Database) -> None:
    tub = bench.tub("Q1")
    bench.logger(tub, 0, 40, 26)
    lot = quarantined(bench, tub)
    eggs = {"pest": "bladder_snail", "stage": "egg", "live": 40, "dead": 0, "removed": False}
    bench.look(2, lot_id=lot, sample_size=20, findings=[eggs])
    winding(bench, tub)
    bench.look(35, lot_id=lot, sample_size=20)
    bench.look(39, lot_id=lot, sample_size=20)
    work_done(database)
    shut = [code for code, gate in bench.gates(lot).items() if not gate["ok"]]
    assert shut == ["freedom"]
    with database.reading() as session:
        found = session.get_one(Lot, lot)
        assert not found.decidable
        assert projection_differs(session, utc_now()) == []


def test_what_can_never_be_waited_out_has_no_release_day(bench: Bench, database: Database) -> None:
    tub = bench.tub("Q1")
    bench.logger(tub, 0, 40, 26)
    lot = quarantined(bench, tub)
    hidden = {"pest": "trumpet_snail", "stage": "adult", "live": 9, "dead": 0, "removed": False}
    bench.look(2, lot_id=lot, sample_size=20, findings=[hidden])
    winding(bench, tub)
    work_done(database)
    assert listed(bench, lot)["release_day"] is None
    assert bench.api.auditor.seen(f"/lots/{lot}/clearance")["release_day"] is None
    assert "treat again or reject" in bench.gates(lot)["freedom"]["reason"]
