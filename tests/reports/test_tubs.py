"""The forecast of tubs over HTTP."""

from datetime import UTC, datetime, timedelta
from typing import Any

from service.core.db import Database
from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_lots import line, received_lot, shipment_body, tub
from tests.make_quarantine import coming, work_done


def weeks(api: Api, query: str = "") -> list[Any]:
    return list(api.grower.seen(f"/reports/tubs{query}")["rows"])


def in_days(days: int) -> str:
    return (datetime.now(UTC).date() + timedelta(days=days)).isoformat()


def test_free_tubs_stand_against_what_is_here_and_what_is_expected(api: Api, database: Database) -> None:
    first = tub(database, "T1")
    tub(database, "T2")
    tub(database, "T3", active=False)
    received_lot(api, tub_id=first)
    received_lot(api)  # stands nowhere yet
    lines = [line(api, bag="A"), line(api, bag="A"), line(api)]
    api.grower.made("/shipments", shipment_body(api, *lines, expected_on=in_days(15)))
    shown = weeks(api)
    assert [(week["taken"], week["free"]) for week in shown] == [(1, 1)] * 6
    # one for what stands nowhere, from the third week on two for the bag and the line without
    assert [week["needed"] for week in shown] == [1, 1, 3, 3, 3, 2]
    assert [week["missing"] for week in shown] == [0, 0, 2, 2, 2, 1]


def test_a_tub_is_free_again_once_its_lots_may_be_sold(api: Api, database: Database) -> None:
    bench = Bench(api, 20)
    place = bench.tub("Q1")
    bench.logger(place, 0, bench.age, 24)
    coming(bench, place, 0)
    work_done(database)
    [until] = [lot["release_day"] for lot in api.grower.seen("/lots?limit=200")["items"]]
    shown = weeks(api, "?weeks=26")
    assert [week["taken"] for week in shown] == [int(until > week["since"]) for week in shown]
    assert {week["taken"] for week in shown} == {0, 1}


def test_cups_grown_in_vitro_need_no_tub(api: Api) -> None:
    made = api.grower.made("/suppliers", {"name": "Gellab", "country": "PT", "in_vitro": True})
    cups = line(api, unit_of_sale="cup")
    body = shipment_body(api, cups, line(api), supplier_id=made["id"], expected_on=in_days(1))
    api.grower.made("/shipments", body)
    assert weeks(api, "?weeks=1")[0]["needed"] == 1


def test_it_comes_as_a_table_too_and_not_beyond_half_a_year(api: Api) -> None:
    table = api.grower.send("GET", "/reports/tubs", headers={"Accept": "text/csv"})
    assert table.get_data(as_text=True).startswith("since,until,tubs,taken,free,needed,missing")
    assert api.grower.get("/reports/tubs?weeks=27").status_code == 422
