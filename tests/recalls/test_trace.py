"""What is within reach of a lot, over HTTP: against the independent tracer, and told in words."""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.db import Database
from service.core.ids import new_id
from service.lots.models import Stay
from service.recalls import reach_queries
from service.recalls.reach import reach
from service.recalls.rules_tracing import Direction
from tests.api import Api
from tests.make_lots import hours_ago, line, plant, received_lot, received_lots, supplier, tub, water_system
from tests.recalls import planted
from tests.recalls.histories import LAST, histories
from tests.recalls.planted import Nursery
from tests.recalls.tracer import History, arrivals, departures


def nursery(api: Api) -> Nursery:
    begin = datetime.now(UTC).replace(minute=0, second=0, microsecond=0) - timedelta(hours=20)
    return Nursery(plant(api), supplier(api), begin, new_id()[-12:])


def told(api: Api, lot_id: str, query: str = "", role: str = "grower") -> Any:
    return getattr(api, role).seen(f"/lots/{lot_id}/trace{query}")


def holder(history: History, lot: str, hour: int) -> str:
    for parent, child, at in history.splits[::-1]:
        if child == lot and hour < at:
            lot = parent
    return lot


def test_the_trace_of_any_history_is_what_the_independent_tracer_finds(api: Api, database: Database) -> None:
    @settings(max_examples=12)
    @given(histories(), st.data())
    def ask(history: History, data: st.DataObject) -> None:
        lot, hour = data.draw(st.sampled_from(history.lots)), data.draw(st.integers(0, LAST))
        place = nursery(api)
        with database.writing() as session:
            ids = planted.plant(session, place, history)
        names = {id_: name for name, id_ in ids.items()}
        at = place.moment(hour).isoformat().replace("+00:00", "Z")
        forward = told(api, ids[lot], f"?at={at}")["lots"]
        back = told(api, ids[lot], f"?direction=back&at={at}")["lots"]
        begun = holder(history, lot, hour)
        assert {names[item["id"]]: place.hour(item["at"]) for item in forward} == arrivals(
            history, {begun: hour}, LAST + 2
        )
        assert {names[item["id"]]: place.hour(item["at"]) for item in back} == departures(
            history, begun, hour
        )

    ask()


def test_the_way_is_told_in_words(api: Api, database: Database) -> None:
    system = water_system(database)
    one, two = (tub(database, code, system=system) for code in ("T1", "T2"))
    first, second = received_lots(
        api, line(api, tub_id=one), line(api, tub_id=two), hours=5, share_water=True
    )
    part = {"quantity": 5, "at": hours_ago(3), "tub_id": tub(database, "T3")}
    child = api.grower.made(f"/lots/{second['id']}/splits", part)
    found = {item["id"]: item for item in told(api, first["id"])["lots"]}
    assert found[first["id"]]["path"] == []
    hops = found[child["id"]]["path"]
    assert [hop["way"] for hop in hops][-1] == "split"
    assert f"{child['code']} was split off {second['code']} on" in hops[-1]["words"]
    assert "tubs T1 and T2, one water system" in hops[0]["words"]
    assert [place["code"] for place in told(api, first["id"])["tubs"]] == ["T1", "T2", "T3"]
    back = {item["id"] for item in told(api, child["id"], "?direction=back")["lots"]}
    assert back == {first["id"], second["id"], child["id"]}


def test_lots_of_one_bag_were_in_one_water(api: Api) -> None:
    first, second, other = received_lots(
        api, line(api, bag="1"), line(api, bag="1"), line(api, bag="2"), hours=5
    )
    found = {item["id"]: item for item in told(api, first["id"])["lots"]}
    assert set(found) == {first["id"], second["id"]}
    assert "came in one bag" in found[second["id"]]["path"][0]["words"]
    assert other["id"] not in found


def test_a_net_that_was_not_disinfected_carries_and_hot_water_breaks_it(api: Api, database: Database) -> None:
    one, two = tub(database, "T1"), tub(database, "T2")
    source, target = (received_lot(api, hours=9, tub_id=place)["id"] for place in (one, two))
    net = api.grower.made("/tools", {"code": "N1", "kind": "net"})["id"]
    clean = api.grower.made("/tools", {"code": "N2", "kind": "net"})["id"]
    api.grower.made(f"/tools/{clean}/uses", {"tub_id": one, "at": hours_ago(4)})
    hot = {"method": "hot_water", "celsius": 60, "minutes": 6}
    api.grower.made(f"/tools/{clean}/disinfections", {**hot, "at": hours_ago(3.5)})
    api.grower.made(f"/tools/{clean}/uses", {"tub_id": two, "at": hours_ago(3)})
    assert [item["id"] for item in told(api, source)["lots"]] == [source]
    api.grower.made(f"/tools/{net}/uses", {"tub_id": one, "at": hours_ago(2)})
    api.grower.made(f"/tools/{net}/uses", {"tub_id": two, "at": hours_ago(1)})
    found = {item["id"]: item for item in told(api, source)["lots"]}
    [hop] = found[target]["path"]
    assert (hop["way"], hop["tool_id"], hop["from_tub_id"], hop["to_tub_id"]) == ("tool", net, one, two)
    assert "N1 was in the water of" in hop["words"]
    assert "not disinfected in between" in hop["words"]


def test_customers_are_listed_since_the_arrival_and_named_to_those_who_may_know(
    api: Api, database: Database
) -> None:
    place = nursery(api)
    history = History([("A", "T", 0, 9), ("B", "T", 3, 9)], lots=["A", "B"])
    with database.writing() as session:
        ids = planted.plant(session, place, history)
        planted.sold(session, place, ids["B"], 2, "before")
        after = planted.sold(session, place, ids["B"], 3, "customer 17")
    [line_] = told(api, ids["A"], role="seller")["customers"]
    assert (line_["dispatch_id"], line_["customer_ref"], line_["quantity"]) == (after, "customer 17", 2)
    [hidden] = told(api, ids["A"], role="grower")["customers"]
    assert (hidden["dispatch_id"], hidden["customer_ref"], hidden["order_ref"]) == (after, None, None)
    assert told(api, ids["A"], "?direction=back", role="seller")["customers"] == []


def test_bad_questions_are_refused_by_name(api: Api) -> None:
    lot = received_lot(api)["id"]
    assert api.grower.get(f"/lots/{lot}/trace?direction=sideways").status_code == 422
    assert api.grower.get(f"/lots/{lot}/trace?at={hours_ago(-2)}").status_code == 422
    assert api.grower.get(f"/lots/{new_id()}/trace").status_code == 404
    assert api.shop.get(f"/lots/{lot}/trace").status_code == 403


def test_who_came_into_the_tub_long_after_is_not_even_read(
    api: Api, database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A trace costs what lies around it, whatever else a tub has seen."""
    begin, place = nursery(api).begin - timedelta(days=300), tub(database, "T1")
    lots = [lot["id"] for lot in received_lots(api, *[line(api)] * 30)]
    with database.writing() as session:
        for n, lot in enumerate(lots):  # one after the other, each for a day, two days apart
            entered = begin + timedelta(days=3 * n)
            session.add(
                Stay(lot_id=lot, tub_id=place, entered_at=entered, left_at=entered + timedelta(days=1))
            )
    read: list[object] = []
    asked = reach_queries._asked

    def counted(*given: Any, **bound: Any) -> Any:
        rows = asked(*given, **bound)
        read.extend(rows)
        return rows

    monkeypatch.setattr(reach_queries, "_asked", counted)
    with database.reading() as session:
        for direction, moment in ((Direction.FORWARD, begin), (Direction.BACK, begin + timedelta(days=88))):
            lot = lots[0] if direction is Direction.FORWARD else lots[-1]
            assert set(reach(session, {lot: moment}, direction)) == {lot}
    assert len(read) <= 6
