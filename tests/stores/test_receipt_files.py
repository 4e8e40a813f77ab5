"""Deliveries as a CSV file: a preview first, then all or nothing, with a line for every bad row."""

from typing import Any

import pytest

from service.core.db import Database
from service.stores.receipt_files import RECEIPTS
from tests.api import Api, Client
from tests.make_stores import copper
from tests.stores.ledger import ago, day, lines
from tests.unchanged import unchanged

HEADER = "material,batch_number,quantity,unit"
CSV = {"Content-Type": "text/csv"}


def sent(client: Client, path: str, *rows: str, **headers: str) -> Any:
    return client.send("POST", path, raw="\n".join(rows).encode(), headers={**CSV, **headers})


def previewed(api: Api, *rows: str) -> Any:
    answer = sent(api.grower, "/stock-receipts/preview", *rows)
    assert answer.status_code == 200, answer.get_json()
    return answer.get_json()


def received(api: Api, *rows: str, **headers: str) -> Any:
    return sent(api.grower, "/stock-receipts", *rows, **headers)


def test_a_preview_shows_each_row_as_it_would_be_received_and_keeps_nothing(
    api: Api, database: Database
) -> None:
    rows = [
        f"{HEADER},container_size,container_unit,strength,strength_basis,expires_on,cost,currency",
        f"bleach,B-7,5,L,1,L,8.25,naocl_ww,{day(90)},12.50,EUR",
        "potassium-alum,A-9,2,kg,,,,,,,",
    ]
    with unchanged(database):
        shown = previewed(api, *rows)
    assert (shown["ok"], shown["problems"]) == (True, [])
    bleach, alum = shown["rows"]
    assert (bleach["line"], bleach["material"], bleach["batch_number"]) == (2, "bleach", "B-7")
    assert bleach["received"] == {"value": "5", "unit": "L"}
    assert bleach["containers"] == {"size": {"value": "1", "unit": "L"}, "received": 5, "left": 5}
    assert bleach["strength"] == {"value": 8.25, "basis": "naocl_ww"}
    assert (bleach["expires_on"], bleach["usable"]) == (day(90), True)
    assert bleach["cost"] == {"value": "12.50", "currency": "EUR"}
    assert (alum["line"], alum["received"], alum["cost"]) == (3, {"value": "2000", "unit": "g"}, None)


def test_a_file_is_received_as_it_was_previewed(api: Api) -> None:
    rows = [f"{HEADER},made_on", f"copper-stock,C-1,500,mL,{day(-3)}", "potassium-alum,A-9,2,kg,"]
    foreseen = previewed(api, *rows)["rows"]
    answer = received(api, *rows)
    assert (answer.status_code, answer.get_json()["received"]) == (201, 2)
    kept = answer.get_json()["batches"]
    same = foreseen[0].keys() - {"line", "received_at"}
    assert [{n: b[n] for n in same} for b in kept] == [{n: r[n] for n in same} for r in foreseen]
    assert lines(api, "") == [("receipt", "500 mL"), ("receipt", "2000 g")]


def test_a_row_says_when_it_came(api: Api) -> None:
    when = ago(5)
    rows = [f"{HEADER},at,late_reason", f"copper-stock,C-1,1,L,{when['at']},{when['late_reason']}"]
    [kept] = received(api, *rows).get_json()["batches"]
    assert kept["received_at"][:19] == when["at"][:19]


def test_a_row_names_the_shelf_it_is_put_on(api: Api) -> None:
    shelf = api.grower.made("/shelves", {"name": "cellar"})["id"]
    rows = [f"{HEADER},shelf", "copper-stock,C-1,1,L,cellar", "copper-stock,C-2,1,L,"]
    assert [row["shelf_id"] for row in previewed(api, *rows)["rows"]] == [shelf, None]
    assert [batch["shelf_id"] for batch in received(api, *rows).get_json()["batches"]] == [shelf, None]


@pytest.mark.parametrize(
    ("columns", "row", "field"),
    [
        ("", "alum,1,1,kg", "material"),
        ("", ",1,1,kg", "material"),
        ("", "copper-stock,,1,L", "batch_number"),
        ("", "copper-stock,1,,L", "quantity"),
        ("", "copper-stock,1,-1,L", "quantity"),
        ("", "copper-stock,1,1 000,L", "quantity"),
        ("", "copper-stock,1,1,", "unit"),
        ("", "copper-stock,1,1,bucket", "unit"),
        ("", "copper-stock,1,1,g", "unit"),
        ("", "potassium-alum,1,5,mL", "unit"),
        ("", "copper-stock,1,1,L,7", None),
        (",at", "copper-stock,1,1,L,2090-01-01T00:00:00Z", "at"),
        (",at", "copper-stock,1,1,L,2026-03-02", "at"),
        (",at", "copper-stock,1,1,L,{late}", "late_reason"),
        (",made_on", "copper-stock,1,1,L,02/03/2026", "made_on"),
        (",made_on", "copper-stock,1,1,L,2090-01-01", "made_on"),
        (",strength", "copper-stock,1,1,L,1", "strength"),
        (",strength", "bleach,1,1,L,", "strength"),
        (",strength,strength_unit", "copper-stock,1,1,L,much,g/L", "strength"),
        (",strength,strength_basis", "copper-stock,1,1,L,1,percent_wv", "strength_basis"),
        (",strength,strength_unit", "copper-stock,1,1,L,1,kg/L", "strength_unit"),
        (",container_size,container_unit", "copper-stock,1,1,L,1,kg", "container_unit"),
        (",container_size", "copper-stock,1,1,L,1", "container_unit"),
        (",cost,currency", "copper-stock,1,1,L,1.005,EUR", "cost"),
        (",cost,currency", "copper-stock,1,1,L,1.00,euros", "currency"),
        (",shelf", "copper-stock,1,1,L,nowhere", "shelf"),
        (",shelf_celsius", "copper-stock,1,1,L,99", "shelf_celsius"),
        (",confirm_duplicate", "copper-stock,1,1,L,perhaps", "confirm_duplicate"),
    ],
)
def test_a_bad_row_is_named_and_nothing_is_received(
    api: Api, database: Database, columns: str, row: str, field: str | None
) -> None:
    good = "copper-stock,good,1,L" + "," * columns.count(",")
    rows = [HEADER + columns, good, row.format(late=ago(5)["at"])]
    with unchanged(database):
        shown, answer = previewed(api, *rows), received(api, *rows)
    assert not shown["ok"]
    assert [each["line"] for each in shown["rows"]] == [2]
    assert {(each["line"], each["field"]) for each in shown["problems"]} == {(3, field)}
    assert all(each["detail"] for each in shown["problems"])
    assert answer.status_code == 422
    pointer = "#/lines/3" if field is None else f"#/lines/3/{field}"
    assert {error["pointer"] for error in answer.get_json()["errors"]} == {pointer}


def test_every_bad_row_is_named_at_once(api: Api, database: Database) -> None:
    copper(api, batch_number="old")
    rows = [HEADER, "copper-stock,1,1,bucket", "copper-stock,2,0,L", "copper-stock,OLD,1,L"]
    with unchanged(database):
        answer = received(api, *rows)
    pointers = [error["pointer"] for error in answer.get_json()["errors"]]
    assert (answer.status_code, pointers) == (
        422,
        ["#/lines/2/unit", "#/lines/3/quantity", "#/lines/4/batch_number"],
    )


def test_a_number_that_came_before_or_stands_twice_is_asked_for(api: Api, database: Database) -> None:
    copper(api, batch_number="old")
    rows = [HEADER, "copper-stock,old,1,L", "copper-stock,new,1,L", "copper-stock,new,1,L"]
    with unchanged(database):
        shown, answer = previewed(api, *rows), received(api, *rows)
    assert [(each["line"], each["code"]) for each in shown["problems"]] == [
        (2, "duplicate-batch-number"),
        (4, "duplicate-batch-number"),
    ]
    assert (answer.status_code, answer.get_json()["type"]) == (409, "/problems/duplicate-batch-number")
    assert [reason["pointer"] for reason in answer.get_json()["reasons"]] == [
        "#/lines/2/batch_number",
        "#/lines/4/batch_number",
    ]


def test_a_confirmed_number_is_received_again(api: Api) -> None:
    copper(api, batch_number="old")
    rows = [f"{HEADER},confirm_duplicate", "copper-stock,old,1,L,true", "copper-stock,new,1,L,"]
    assert received(api, *rows).get_json()["received"] == 2


def test_lines_are_counted_as_an_editor_does(api: Api) -> None:
    mark = "\ufeff"
    rows = [f"{mark}Unit, QUANTITY ,batch_number,material\r", 'L,1,"7, second',
            'label",copper-stock\r', ",,,\r", "bucket,1,8,copper-stock\r"]  # fmt: skip
    shown = previewed(api, *rows)
    assert [(r["line"], r["batch_number"]) for r in shown["rows"]] == [(2, "7, second\nlabel")]
    assert [each["line"] for each in shown["problems"]] == [5]


@pytest.mark.promise(r=26)
@pytest.mark.parametrize("path", ["/stock-receipts/preview", "/stock-receipts"])
@pytest.mark.parametrize(
    ("content", "pointer"),
    [
        ("", "#/lines/1"),
        (HEADER, "#/lines/1"),
        ("material;batch_number;quantity;unit\ncopper-stock;1;1;L", "#/lines/1"),
        ("material,batch_number,quantity\ncopper-stock,1,1", "#/lines/1"),
        (f"{HEADER},colour\ncopper-stock,1,1,L,blue", "#/lines/1"),
        (f"{HEADER},unit\ncopper-stock,1,1,L,L", "#/lines/1"),
        (f'{HEADER}\ncopper-stock,"1,1,L', "#/lines/2"),
        (f"{HEADER}\ncopper-stock,{'1' * 2001},1,L", "#/lines/2"),
        (f"{HEADER}\ncopper-stock,1\x00,1,L", "#"),
        (HEADER + "\ncopper-stock,1,1,L" * (RECEIPTS.most_rows + 1), f"#/lines/{RECEIPTS.most_rows + 2}"),
    ],
)
def test_what_is_no_file_of_deliveries_is_refused(
    api: Api, database: Database, path: str, content: str, pointer: str
) -> None:
    with unchanged(database):
        answer = sent(api.grower, path, content)
    assert answer.status_code == 422
    assert [error["pointer"] for error in answer.get_json()["errors"]] == [pointer]


@pytest.mark.promise(r=26)
def test_a_file_in_another_encoding_kind_or_size_is_refused(api: Api, database: Database) -> None:
    with unchanged(database):
        latin = api.grower.send("POST", "/stock-receipts", raw=HEADER.encode() + b"\xe9", headers=CSV)
        plain = api.grower.post("/stock-receipts", {"material": "copper-stock"})
        large = sent(api.grower, "/stock-receipts", "x" * (2 * 1024 * 1024 + 1))
        nobody = sent(api.auditor, "/stock-receipts", HEADER)
    assert [a.status_code for a in (latin, plain, large, nobody)] == [422, 415, 413, 403]


@pytest.mark.promise(r=26)
def test_a_file_sent_twice_under_its_key_is_received_once(api: Api) -> None:
    rows = [HEADER, "copper-stock,1,1,L"]
    first, again = (received(api, *rows, Idempotency_Key="delivery-of-monday") for _ in range(2))
    assert (first.status_code, again.status_code) == (201, 201)
    assert again.get_json() == first.get_json()
    assert lines(api, "") == [("receipt", "1 L")]
