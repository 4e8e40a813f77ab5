"""Proofs of what is stored beside the facts: a row broken on purpose is found, named, and left as it is."""

from datetime import UTC, datetime
from typing import Any

import pytest
from sqlalchemy import select, text
from structlog.testing import capture_logs

from service.core.db import Database, snapshot
from service.core.jobs import owe
from service.lots.models import Lot
from service.reports.actions import rebuild
from service.reports.proofs import Proof, prove
from service.reports.spans import Span
from service.wiring import JOBS, NIGHTLY
from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_clearance import decide, ready
from tests.make_photos import kept
from tests.make_quarantine import quarantined, work_done
from tests.make_stores import copper

BROKEN = {
    "ledger": "UPDATE stock_batch SET balance = balance + 1",
    "rollup": "UPDATE consumption_day SET discharged_mg = discharged_mg + 1",
    "projection": "UPDATE lot SET release_day = '2020-01-01' WHERE state = 'in_quarantine'",
    "standing": "UPDATE lot SET good_until = '2020-01-01 00:00:00.000000' WHERE state = 'cleared'",
    "certificates": "UPDATE lot SET certificate_serial = 'lost' WHERE state = 'cleared'",
    "photos": "UPDATE photo SET bytes = bytes + 1",
}


@pytest.fixture
def house(api: Api, database: Database) -> Database:
    """A house with a lot in quarantine, a batch of copper and a disposal of it, nothing owed."""
    return furnished(Bench(api, age=10), database)


def furnished(bench: Bench, database: Database) -> Database:
    quarantined(bench, bench.tub("Q2"))
    batch = copper(bench.api)
    body = {"batch_id": batch["id"], "quantity": {"value": 5, "unit": "mL"}, "reason": "x", "way": "sewer"}
    bench.api.grower.made("/stock-disposals", body)
    work_done(database)
    return database


def proofs(database: Database) -> dict[str, Proof]:
    with snapshot(database) as session:
        return {proof.name: proof for proof in prove(session, datetime.now(UTC))}


def broken(database: Database, name: str) -> None:
    """One row is made wrong behind the service's back."""
    with database.engine.begin() as connection:
        assert connection.execute(text(BROKEN[name])).rowcount == 1


def at_night(database: Database) -> None:
    now = datetime.now(UTC)
    with database.writing() as session:
        owe(session, "prove", "tonight", now)
    assert work_done(database) == 1


def night_entry(api: Api) -> dict[str, Any]:
    """The last entry of the journal that tells of a proof."""
    items = api.auditor.seen("/audit?limit=200")["items"]
    found: dict[str, Any] = [item for item in items if item["kind"].startswith("house.pro")][-1]
    return found


def readiness(api: Api) -> str:
    return str(api.nobody.get("/readyz").get_json()["checks"]["proofs"][0]["status"])


@pytest.mark.promise(r=4)
def test_a_row_made_wrong_is_found_by_its_proof_alone(api: Api, database: Database) -> None:
    bench = Bench(api)
    bench.cleared_lot()
    furnished(bench, database)
    kept(api)
    found = proofs(database)
    assert {name: proof.checked > 0 for name, proof in found.items()} == dict.fromkeys(BROKEN, True)
    assert {name: proof.wrong for name, proof in found.items()} == dict.fromkeys(BROKEN, ())
    for name, statement in BROKEN.items():
        with database.writer() as session:
            session.execute(text(statement))
            wrong = {proof.name: len(proof.wrong) for proof in prove(session, datetime.now(UTC))}
            session.rollback()
        assert wrong == {**dict.fromkeys(BROKEN, 0), name: 1}


def test_a_lot_cleared_after_its_projection_is_no_difference(api: Api, database: Database) -> None:
    bench = Bench(api)
    tub = bench.tub("Q1")
    bench.logger(tub, 0, bench.age, 24)
    lot = ready(bench, tub)
    work_done(database)
    assert decide(bench, lot).status_code == 201
    assert proofs(database)["projection"].wrong == ()


@pytest.mark.promise(r=28)
def test_what_is_wrong_is_named(house: Database) -> None:
    for name in ("projection", "rollup"):
        broken(house, name)
    found = proofs(house)
    with house.reading() as session:
        codes = session.scalars(select(Lot.code)).all()
    assert found["projection"].wrong == tuple(codes)
    assert found["rollup"].wrong[0].startswith(datetime.now(UTC).date().isoformat())
    assert found["rollup"].wrong[0].endswith("no protocol disposal")


def test_a_night_that_holds_is_kept_with_its_figures(api: Api, house: Database) -> None:
    assert readiness(api) == "pass"
    with capture_logs() as lines:
        at_night(house)
    assert {line["proof"]: (line["event"], line["wrong"]) for line in lines} == dict.fromkeys(
        BROKEN, ("proof held", 0)
    )
    entry = night_entry(api)
    assert entry["kind"] == "house.proved"
    assert entry["after"]["ledger"] == {"checked": 1, "wrong": 0, "which": []}
    assert readiness(api) == "pass"


def test_a_night_that_fails_is_told_in_log_journal_and_readiness_and_nothing_is_repaired(
    api: Api, house: Database
) -> None:
    broken(house, "ledger")
    wrong = proofs(house)["ledger"].wrong
    with capture_logs() as lines:
        at_night(house)
    assert [line["proof"] for line in lines if line["log_level"] == "error"] == ["ledger"]
    entry = night_entry(api)
    assert entry["kind"] == "house.proof_failed"
    assert entry["after"]["ledger"] == {"checked": 1, "wrong": 1, "which": list(wrong)}
    assert readiness(api) == "warn"
    assert proofs(house)["ledger"].wrong == wrong


def test_a_night_that_holds_again_ends_the_warning(api: Api, house: Database) -> None:
    broken(house, "rollup")
    at_night(house)
    with house.writing() as session:
        rebuild(session, Span())
    at_night(house)
    assert readiness(api) == "pass"


def test_the_night_proves_before_anything_is_computed_anew() -> None:
    assert NIGHTLY[0] == "prove"
    assert set(NIGHTLY) <= set(JOBS)


def test_what_is_done_during_a_proof_is_no_difference(api: Api, house: Database) -> None:
    batch = api.grower.seen("/stock-batches")["items"][0]["id"]
    body = {"batch_id": batch, "quantity": {"value": 5, "unit": "mL"}, "reason": "x", "way": "sewer"}
    with snapshot(house) as session:
        before = prove(session, datetime.now(UTC))
        api.grower.made("/stock-disposals", body)
        assert prove(session, datetime.now(UTC)) == before
