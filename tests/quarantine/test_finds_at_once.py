"""Finds that come at the same moment, and the locks they take."""

import threading
from typing import Any

import pytest
from sqlalchemy import event

from service.core.db import Database
from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_quarantine import ADULT, moved, quarantined


@pytest.fixture
def bench(api: Api) -> Bench:
    return Bench(api, age=40)


@pytest.mark.promise(r=6)
def test_two_finds_at_once_in_lots_that_met_before_are_both_taken(bench: Bench) -> None:
    tub = bench.tub("Q1")
    lots = [quarantined(bench, tub), quarantined(bench, tub, share_water=True)]
    for n, lot in enumerate(lots):
        moved(bench, lot, bench.tub(f"Q{n + 2}"), 10)
    for _ in range(3):
        start = threading.Barrier(2)
        answers: list[int] = []

        def find(lot: str, start: threading.Barrier = start, answers: list[int] = answers) -> None:
            start.wait()
            body = {"lot_id": lot, "sample_size": 20, "findings": [ADULT]}
            answer = bench.api.grower.post("/inspections", body)
            while answer.status_code == 503:  # too slow a machine; a deadlock would be told as 40P01
                answer = bench.api.grower.post("/inspections", body)
            answers.append(answer.status_code)

        threads = [threading.Thread(target=find, args=(lot,)) for lot in lots]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        assert answers == [201, 201]


def test_a_find_locks_the_lots_that_it_reaches_elsewhere_with_its_own_at_once(
    bench: Bench, database: Database, database_kind: str
) -> None:
    """Waiting for one lot while holding another is how two finds would wait for each other for ever."""
    if database_kind == "sqlite":
        pytest.skip("SQLite locks the whole file")
    tub = bench.tub("Q1")
    lots = [quarantined(bench, tub), quarantined(bench, tub, share_water=True)]
    moved(bench, lots[1], bench.tub("Q2"), 10)
    locked: list[str] = []

    def note(_conn: Any, _cursor: Any, statement: str, parameters: Any, *_rest: Any) -> None:
        if "FROM lot" in statement and "FOR UPDATE" in statement:
            locked.append(str(parameters))

    event.listen(database.engine, "before_cursor_execute", note)
    bench.look(39, lot_id=lots[0], sample_size=20, findings=[ADULT])
    event.remove(database.engine, "before_cursor_execute", note)
    assert all(lot in locked[0] for lot in lots)
