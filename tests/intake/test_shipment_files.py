"""Shipments as a CSV file: a preview first, then all or nothing, with a line for every bad row."""

from typing import Any

import pytest

from service.core.db import Database
from service.intake.shipment_files import SHIPMENTS
from tests.api import Api, Client
from tests.make_lots import hours_ago, tub
from tests.unchanged import unchanged

HEADER = "supplier,plant,quantity,unit_of_sale"
CSV = {"Content-Type": "text/csv"}
WHO = "Alder Water Gardens"


@pytest.fixture
def house(api: Api) -> Api:
    api.grower.made("/suppliers", {"name": WHO, "country": "PT"})
    return api


def sent(client: Client, path: str, *rows: str) -> Any:
    return client.send("POST", path, raw="\n".join(rows).encode(), headers=CSV)


def previewed(api: Api, *rows: str) -> Any:
    answer = sent(api.grower, "/shipments/import/preview", *rows)
    assert answer.status_code == 200, answer.get_json()
    return answer.get_json()


def test_a_file_is_one_shipment_with_a_lot_for_each_row(house: Api, database: Database) -> None:
    rows = [
        f"{HEADER},received_at,document_kind,document_number,stems_per_bunch",
        f"{WHO},anubias-barteri,40,pot,{hours_ago(2)},plant_passport,PT-0001,",
        f"{WHO},cryptocoryne-wendtii,8,bunch,,,,6",
    ]
    with unchanged(database):
        foreseen = previewed(house, *rows)
    assert (foreseen["ok"], foreseen["problems"]) == (True, [])
    answer = sent(house.grower, "/shipments/import", *rows)
    assert (answer.status_code, answer.get_json()["registered"]) == (201, 1)
    [made], [shown] = answer.get_json()["shipments"], foreseen["shipments"]
    assert (shown["line"], shown["code"]) == (2, made["code"])
    assert [line["quantity"] for line in made["lines"]] == [40, 8]
    assert [line["stems_per_bunch"] for line in made["lines"]] == [None, 6]
    assert made["documents"] == [{"kind": "plant_passport", "number": "PT-0001"}]
    assert [lot["state"] for lot in made["lots"]] == ["received", "received"]
    assert house.grower.seen(f"/shipments/{made['id']}") == made


def test_rows_with_one_name_are_one_shipment_received_or_expected(house: Api, database: Database) -> None:
    place = tub(database, "T1")
    rows = [
        f"shipment,{HEADER},expected_on,tub",
        f"a,{WHO},anubias-barteri,5,pot,,T1",
        f"b,{WHO},anubias-barteri,6,pot,2099-01-01,",
        f"a,{WHO},anubias-barteri,7,pot,,",
    ]
    answer = sent(house.grower, "/shipments/import", *rows)
    here, coming = answer.get_json()["shipments"]
    assert [line["quantity"] for line in here["lines"]] == [5, 7]
    assert here["lines"][0]["tub_id"] == place
    assert (coming["expected_on"], coming["received_at"], coming["lots"]) == ("2099-01-01", None, [])


def test_the_suppliers_deadline_comes_with_the_file_and_is_owed(house: Api) -> None:
    deadline = hours_ago(-48)
    rows = [f"{HEADER},claim_before", f"{WHO},anubias-barteri,5,pot,{deadline}"]
    [made] = sent(house.grower, "/shipments/import", *rows).get_json()["shipments"]
    assert made["claim_before"] == deadline
    owed = house.grower.seen("/due-work?kind=claim_before")["items"]
    assert [[lot["id"] for lot in item["lots"]] for item in owed] == [[made["lots"][0]["id"]]]
    row = f"{WHO},anubias-barteri,5,pot,tomorrow"
    refused = sent(house.grower, "/shipments/import", f"{HEADER},claim_before", row)
    assert [error["pointer"] for error in refused.get_json()["errors"]] == ["#/lines/2/claim_before"]


@pytest.mark.promise(r=26)
@pytest.mark.parametrize(
    ("columns", "row", "field"),
    [
        ("", "Nobody,anubias-barteri,1,pot", "supplier"),
        ("", f"{WHO},no-such-plant,1,pot", "plant"),
        ("", f"{WHO},,1,pot", "plant"),
        ("", f"{WHO},anubias-barteri,0,pot", "quantity"),
        ("", f"{WHO},anubias-barteri,5.5,pot", "quantity"),
        ("", f"{WHO},anubias-barteri,1,box", "unit_of_sale"),
        ("", f"{WHO},anubias-barteri,1,pot,x", None),
        (",stems_per_bunch", f"{WHO},anubias-barteri,1,pot,6", "stems_per_bunch"),
        (",tub", f"{WHO},anubias-barteri,1,pot,nowhere", "tub"),
        (",received_at", f"{WHO},anubias-barteri,1,pot,2090-01-01T00:00:00Z", "received_at"),
        (",received_at", f"{WHO},anubias-barteri,1,pot,yesterday", "received_at"),
        (",document_kind,document_number", f"{WHO},anubias-barteri,1,pot,letter,7", "document_kind"),
        (",kept_in_wool", f"{WHO},anubias-barteri,1,pot,perhaps", "kept_in_wool"),
    ],
)
def test_a_bad_row_is_named_and_nothing_is_received(
    house: Api, database: Database, columns: str, row: str, field: str | None
) -> None:
    good = f"good,{WHO},anubias-barteri,3,pot" + "," * columns.count(",")
    rows = [f"shipment,{HEADER}{columns}", good, f"bad,{row}"]
    with unchanged(database):
        shown, answer = previewed(house, *rows), sent(house.grower, "/shipments/import", *rows)
    assert not shown["ok"]
    assert [each["line"] for each in shown["shipments"]] == [2]
    assert {(each["line"], each["field"]) for each in shown["problems"]} == {(3, field)}
    assert answer.status_code == 422
    pointer = "#/lines/3" if field is None else f"#/lines/3/{field}"
    assert {error["pointer"] for error in answer.get_json()["errors"]} == {pointer}


def test_what_a_tub_refuses_is_said_before_it_happens(house: Api, database: Database) -> None:
    tub(database, "T1")
    rows = [f"shipment,{HEADER},tub", *(f"{n},{WHO},anubias-barteri,5,pot,T1" for n in "ab")]
    with unchanged(database):
        shown = previewed(house, *rows)
        answer = sent(house.grower, "/shipments/import", *rows)
    assert [(each["line"], each["code"]) for each in shown["problems"]] == [(3, "water-shared")]
    assert answer.status_code == 422


def test_rows_of_one_shipment_that_contradict_each_other_are_named(house: Api) -> None:
    rows = [
        f"{HEADER},note",
        f"{WHO},anubias-barteri,5,pot,first",
        f"{WHO},anubias-barteri,5,pot,second",
    ]
    [problem] = previewed(house, *rows)["problems"]
    assert (problem["line"], problem["field"]) == (3, "note")


@pytest.mark.promise(r=26)
def test_too_many_rows_another_kind_and_another_role_are_refused(house: Api) -> None:
    rows = [f"{WHO},anubias-barteri,1,pot"] * (SHIPMENTS.most_rows + 1)
    answer = sent(house.grower, "/shipments/import", HEADER, *rows)
    pointer = answer.get_json()["errors"][0]["pointer"]
    assert (answer.status_code, pointer) == (422, f"#/lines/{SHIPMENTS.most_rows + 2}")
    assert house.grower.post("/shipments/import", {}).status_code == 415
    assert sent(house.seller, "/shipments/import", HEADER, rows[0]).status_code == 403
