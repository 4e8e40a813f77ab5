"""Which lots shared water with which, and since when."""

import time
from collections.abc import Sequence
from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy.orm import Session
from sqlalchemy.orm.exc import StaleDataError

from service.core.db import Database
from service.core.errors import Refused
from service.journal.actions import Note
from service.journal.acts import Act
from service.lots.actions import enter_tub, leave_tub, lock_water_group
from service.lots.models import Lot
from service.lots.queries import contacts_of
from service.lots.reactions import on_tool_used
from service.lots.sharing import reach_since_clock
from service.tubs.models import Tub
from tests.api import Api
from tests.make_lots import hours_ago, line, received_lot, received_lots, tub, water_system


def act(hours: float = 0) -> Act:
    now = datetime.now(UTC)
    return Act("tests", now - timedelta(hours=hours), now)


def reached(database: Database, lot_id: str, hours: float = 0) -> list[str]:
    with database.reading() as session:
        return [found.id for found in reach_since_clock(session, [lot_id], act(hours).at)]


def clock(database: Database, lot_id: str, hours: float) -> None:
    with database.writing() as session:
        session.get_one(Lot, lot_id).clock_started_at = act(hours).at


def enter(
    database: Database, lot_ids: Sequence[str], tub_id: str, *, hours: float = 0, intent: bool = False
) -> None:
    with database.writing() as session:
        lots = lock_water_group(session, lot_ids, [tub_id])
        wanted = [lot for lot in lots if lot.id in lot_ids]
        enter_tub(
            session, act(hours), wanted, session.get_one(Tub, tub_id), share_water=False, by_intent=intent
        )


def together(api: Api, database: Database) -> tuple[str, str, str]:
    """Two lots that shared T1 from ten hours ago; the second has gone to T2 four hours ago."""
    one = tub(database, "T1")
    first, second = received_lots(api, *[line(api, tub_id=one)] * 2, hours=10, share_water=True)
    two = tub(database, "T2")
    api.grower.made(f"/lots/{second['id']}/moves", {"tub_id": two, "at": hours_ago(4)})
    return first["id"], second["id"], two


def test_lots_that_stood_in_one_tub_reach_each_other(api: Api, database: Database) -> None:
    first, second, _ = together(api, database)
    alone = received_lot(api, hours=10)["id"]
    assert reached(database, first) == [second]
    assert reached(database, second) == [first]
    assert reached(database, alone) == []


def test_water_shared_before_the_others_clock_does_not_count(api: Api, database: Database) -> None:
    first, second, _ = together(api, database)
    clock(database, second, 5)
    assert reached(database, first) == [second]
    clock(database, second, 3)
    assert reached(database, first) == []
    assert reached(database, second) == [first]


def test_what_came_after_the_moment_asked_for_does_not_count(api: Api, database: Database) -> None:
    place = tub(database, "T1")
    old = received_lot(api, hours=10, tub_id=place)["id"]
    new = received_lot(api, hours=10)["id"]
    move = {"tub_id": place, "at": hours_ago(2), "share_water": True}
    api.grower.made(f"/lots/{new}/moves", move)
    assert reached(database, old) == [new]
    assert reached(database, old, hours=3) == []


def test_one_after_the_other_is_not_together(api: Api, database: Database) -> None:
    place = tub(database, "T1")
    before = received_lot(api, hours=10, tub_id=place)["id"]
    api.grower.made(f"/lots/{before}/moves", {"tub_id": tub(database, "T2"), "at": hours_ago(4)})
    after = received_lot(api, hours=2, tub_id=place)["id"]
    assert reached(database, before) == reached(database, after) == []


def test_a_filter_carries_water_between_tubs(api: Api, database: Database) -> None:
    system = water_system(database)
    one, two = (tub(database, code, system=system) for code in ("T1", "T2"))
    lots = received_lots(api, line(api, tub_id=one), line(api, tub_id=two), hours=1, share_water=True)
    assert reached(database, lots[0]["id"]) == [lots[1]["id"]]


def test_a_lot_that_ended_is_not_reached(api: Api, database: Database) -> None:
    first, second, _ = together(api, database)
    api.grower.made(f"/lots/{second}/losses", {"quantity": 40, "cause": "melt"})
    assert reached(database, first) == []


def test_a_tool_carries_water_one_way(api: Api, database: Database) -> None:
    one, two = tub(database, "T1"), tub(database, "T2")
    source = received_lot(api, hours=10, tub_id=one)["id"]
    target = received_lot(api, hours=10, tub_id=two)["id"]
    use = {"contact": True, "tub_id": two, "from_tub_id": one, "from_at": act(3).at}
    with database.writing() as session:
        on_tool_used(session, Note("tool.used", act(2), (), use))
    assert reached(database, source) == [target]
    assert reached(database, target) == []
    with database.reading() as session:
        [contact] = contacts_of(session, [target])[target]
        assert contact.way == "tool"
    assert [item["kind"] for item in api.auditor.seen(f"/lots/{target}/history")["items"]][
        -1
    ] == "lot.water_shared"


def test_a_clean_tool_or_an_empty_tub_makes_no_contact(api: Api, database: Database) -> None:
    two = tub(database, "T2")
    lot = received_lot(api, tub_id=two)["id"]
    with database.writing() as session:
        on_tool_used(session, Note("tool.used", act(), (), {"contact": False, "tub_id": two}))
        empty = {"contact": True, "tub_id": tub_id_of(session), "from_tub_id": two, "from_at": act().at}
        on_tool_used(session, Note("tool.used", act(), (), empty))
        assert contacts_of(session, [lot])[lot] == []


def tub_id_of(session: Session) -> str:
    made = Tub(code="T9", volume_l=10, created_at=datetime.now(UTC))
    session.add(made)
    session.flush()
    return made.id


def test_the_lots_of_one_treatment_share_water_by_intent(api: Api, database: Database) -> None:
    place = tub(database, "T1")
    ids = [received_lot(api)["id"] for _ in range(2)]
    with pytest.raises(Refused, match="share_water"):
        enter(database, ids, place)
    enter(database, ids, place, intent=True)
    with database.reading() as session:
        assert all(len(rows) == 1 for rows in contacts_of(session, ids).values())


def test_intent_covers_a_tub_filled_long_ago_but_no_stranger(api: Api, database: Database) -> None:
    place = tub(database, "T1")
    inside = received_lot(api, hours=60, tub_id=place)["id"]
    new = received_lot(api)["id"]
    with pytest.raises(Refused, match="All in, all out"):
        enter(database, [new], place, intent=True)
    enter(database, [inside, new], place, intent=True)
    assert reached(database, inside) == [new]


def test_a_lot_may_stand_in_no_tub(api: Api, database: Database) -> None:
    place = tub(database, "T1")
    lot_id = received_lot(api, hours=2, tub_id=place)["id"]
    with database.writing() as session:
        [lot] = lock_water_group(session, [lot_id])
        leave_tub(session, act(), [lot])
        leave_tub(session, act(), [lot])
        assert lot.tub_id is None
        assert session.get_one(Tub, place).filling_since is None
    kinds = [item["kind"] for item in api.auditor.seen(f"/lots/{lot_id}/history")["items"]]
    assert kinds.count("lot.moved") == 2


def test_a_lot_that_comes_in_at_the_same_moment_is_never_overlooked(api: Api, database: Database) -> None:
    place = tub(database, "T1")
    inside, other = received_lot(api, tub_id=place)["id"], received_lot(api)["id"]
    with ThreadPoolExecutor(1) as pool, database.writing() as session:
        lots = lock_water_group(session, [other], [place])
        mover = [lot for lot in lots if lot.id == other]
        enter_tub(session, act(), mover, session.get_one(Tub, place), share_water=True)
        waiting = pool.submit(_locked, database, inside)
        time.sleep(0.3)  # long enough for the other to stand at the lock
        session.commit()
    assert waiting.result(10) in ("try again", {inside, other})


def _locked(database: Database, lot_id: str) -> set[str] | str:
    try:
        with database.writing() as session:
            return {lot.id for lot in lock_water_group(session, [lot_id])}
    except StaleDataError:
        return "try again"
