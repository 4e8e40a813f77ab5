"""One lot and the list of lots."""

from datetime import datetime, timedelta
from typing import Any

import pytest
from sqlalchemy import event

from service.core.db import Database
from service.lots.schemas import ListedLotOut
from tests.api import Api
from tests.make_lots import cleared, hours_ago, line, received_lot, received_lots, supplier, tub

NOBODY = "018f0000-0000-7000-8000-000000000000"


def test_a_lot_shows_plant_supplier_and_quantities(api: Api) -> None:
    lot = received_lot(api)
    assert lot["state"] == "received"
    assert lot["plant"]["scientific_name"] == "Anubias barteri"
    assert lot["supplier"]["name"] == "Fenmarsh Growers"
    expected = {"received": 40, "gained": 0, "left": 40, "reserved": 0, "sold": 0, "lost": 0}
    assert lot["quantity"] == {**expected, "split_off": 0, "disposed": 0}
    assert lot["holds"] == []
    assert lot["certificate_serial"] is None


def test_the_etag_of_a_lot_changes_with_every_act(api: Api) -> None:
    lot = received_lot(api)
    path = f"/lots/{lot['id']}"
    tag = api.grower.get(path).headers["ETag"]
    assert api.grower.get(path, If_None_Match=tag).status_code == 304
    loss = {"quantity": 1, "cause": "melt"}
    answer = api.grower.post(f"{path}/losses", loss, If_Match=tag)
    assert answer.headers["ETag"] == api.grower.get(path).headers["ETag"] != tag
    assert answer.get_json() == api.grower.seen(path)
    assert api.grower.post(f"{path}/losses", loss, If_Match=tag).status_code == 412


def test_what_is_not_there_is_not_found(api: Api) -> None:
    assert api.grower.get(f"/lots/{NOBODY}").status_code == 404
    assert api.grower.post(f"/lots/{NOBODY}/losses", {"quantity": 1, "cause": "melt"}).status_code == 404


def test_a_listed_lot_is_the_lot_with_its_release_day(api: Api) -> None:
    lot = received_lot(api)
    api.seller.made(f"/lots/{lot['id']}/holds", {"cause": "doubt", "reason": "look again"})
    [item] = api.seller.seen("/lots")["items"]
    alone = api.seller.seen(f"/lots/{lot['id']}")
    assert {name: item[name] for name in alone} == alone
    assert set(item) - set(alone) == {"release_day", "release_day_computed_at", "release_day_stale"}
    assert set(item) == set(ListedLotOut().fields)


def test_lots_are_found_by_what_they_are(api: Api, database: Database) -> None:
    place = tub(database, "T1")
    first = received_lot(api, hours=50, tub_id=place)
    second = received_lot(api, hours=2)
    third = api.grower.made(
        "/shipments", {"supplier_id": supplier(api, "Elm Water Plants"), "lines": [line(api)]}
    )["lots"][0]
    cleared(database, first["id"])

    def ids(query: str) -> list[str]:
        return [item["id"] for item in api.auditor.seen(f"/lots?{query}")["items"]]

    every = [first["id"], second["id"], third["id"]]
    assert ids("") == every
    assert ids("state=cleared") == ids(f"tub={place}") == ids("ready=true") == every[:1]
    assert ids("ready=false") == every[1:]
    assert ids(f"supplier={first['supplier']['id']}") == every[:2]
    assert ids(f"plant={first['plant']['id']}") == every
    assert ids(f"plant={NOBODY}") == []
    assert ids(f"received_from={hours_ago(10)}") == every[1:]
    assert ids(f"received_to={hours_ago(10)}") == every[:1]
    assert ids(f"received_to={second['received_at']}") == every[:2]


def test_a_day_in_a_query_counts_whole(api: Api) -> None:
    lot = received_lot(api, hours=24)
    day = datetime.fromisoformat(lot["received_at"]).date()
    before, after = (day + timedelta(days=n) for n in (-1, 1))
    found = {
        query: len(api.grower.seen(f"/lots?{query}")["items"])
        for query in (
            f"received_from={day}&received_to={day}",
            f"received_to={before}",
            f"received_from={after}",
        )
    }
    assert list(found.values()) == [1, 0, 0]


@pytest.mark.parametrize(
    "query", ["state=held", "ready=maybe", "received_from=monday", "tub=7", "colour=red"]
)
def test_a_query_that_means_nothing_is_refused(api: Api, query: str) -> None:
    assert api.grower.get(f"/lots?{query}").status_code == 422


def test_a_held_or_promised_lot_is_not_ready(api: Api, database: Database) -> None:
    lot = received_lot(api)
    cleared(database, lot["id"])
    api.seller.made(f"/lots/{lot['id']}/holds", {"cause": "doubt", "reason": "look again"})
    assert api.seller.seen("/lots?ready=true")["items"] == []


def test_lots_come_in_pages_oldest_first(api: Api) -> None:
    lots = received_lots(api, *[line(api)] * 3)
    first = api.grower.seen("/lots?limit=2")
    rest = api.grower.seen(f"/lots?limit=2&cursor={first['next']}")
    assert [lot["id"] for lot in first["items"] + rest["items"]] == [lot["id"] for lot in lots]
    assert rest["next"] is None


def test_a_shop_reads_no_lots(api: Api) -> None:
    assert api.shop.get("/lots").status_code == 403


def test_the_list_is_read_in_one_statement_however_many_lots(api: Api, database: Database) -> None:
    received_lots(api, *[line(api)] * 5)
    statements: list[str] = []

    def note(_connection: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
        statements.append(statement)

    event.listen(database.engine, "before_cursor_execute", note)
    api.grower.seen("/lots")
    event.remove(database.engine, "before_cursor_execute", note)
    assert len([statement for statement in statements if "FROM lot " in statement]) == 1
    assert not [
        statement for statement in statements if "FROM hold" in statement and "FROM lot " not in statement
    ]
