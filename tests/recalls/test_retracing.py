"""What is within reach of a recall is kept, and traced again only when a fact that touches it was entered."""

from typing import Any

import pytest

from service.core.db import Database
from service.recalls import progress, retracing
from tests.api import Api
from tests.make_lots import hours_ago, received_lot, tub
from tests.make_quarantine import work_done
from tests.make_recalls import recall


@pytest.fixture
def traces(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The recalls that were traced again, one entry each time."""
    made: list[str] = []
    trace = progress.grown

    def noted(session: Any, found: Any) -> Any:
        made.append(found.id)
        return trace(session, found)

    monkeypatch.setattr(retracing, "grown", noted)
    return made


def newly(api: Api, path: str) -> int:
    return int(api.grower.seen(path)["progress"]["newly_within_reach"])


def test_reading_a_recall_traces_nothing_again(api: Api, database: Database, traces: list[str]) -> None:
    lot = received_lot(api, hours=9, tub_id=tub(database, "T1"))["id"]
    path = f"/recalls/{recall(api, lot_id=lot)['id']}"
    work_done(database)
    traces.clear()
    assert [newly(api, path) for _ in range(3)] == [0, 0, 0]
    api.grower.made("/suppliers", {"name": "Ashford Ponds", "country": "DK"})
    assert newly(api, path) == 0
    assert traces == []


def test_a_fact_that_brings_more_within_reach_is_seen_at_once_and_kept_by_the_worker(
    api: Api, database: Database, traces: list[str]
) -> None:
    one, two = tub(database, "T1"), tub(database, "T2")
    source, _ = (received_lot(api, hours=9, tub_id=place)["id"] for place in (one, two))
    path = f"/recalls/{recall(api, lot_id=source)['id']}"
    work_done(database)
    before = api.grower.get(path).headers["ETag"]
    net = api.grower.made("/tools", {"code": "N1", "kind": "net"})["id"]
    for place, hours in ((one, 3), (two, 2)):
        api.grower.made(f"/tools/{net}/uses", {"tub_id": place, "at": hours_ago(hours)})
    assert newly(api, path) == 1
    work_done(database)
    traces.clear()
    assert newly(api, path) == 1
    assert traces == []
    assert api.grower.get(path).headers["ETag"] != before


def test_without_an_open_recall_no_trace_is_owed(api: Api, database: Database, traces: list[str]) -> None:
    received_lot(api, hours=2, tub_id=tub(database, "T1"))
    work_done(database)
    assert traces == []
