"""Sales items: one name for a plant in a unit, with a GTIN that can be one, and orders by that name."""

from typing import Any

import pytest

from service.core.db import Database
from tests.journeys.bench import Bench
from tests.make_quarantine import coming, listed, work_done
from tests.make_sales import named, promised

# The worked example of GS1: www.gs1hk.org/CheckDigitCalculator_en.htm (tests/exchange/test_rules_gs1.py).
GTIN = "6291041500213"


def test_a_plant_has_a_number_for_each_unit_it_is_sold_in(bench: Bench) -> None:
    pot, cup = named(bench, "AN-P"), named(bench, "AN-C", unit_of_sale="cup", gtin=GTIN)
    assert (pot["scientific_name"], pot["unit_of_sale"], pot["gtin"]) == ("Anubias barteri", "pot", None)
    assert bench.api.shop.seen(f"/sales-items/{cup['id']}") == cup
    listed = bench.api.shop.seen("/sales-items")["items"]
    assert [item["sku"] for item in listed] == ["AN-C", "AN-P"]
    assert bench.api.shop.seen("/sales-items?sku=AN-P")["items"] == [pot]
    rows = bench.api.shop.get("/sales-items", Accept="text/csv").get_data(as_text=True).splitlines()
    assert rows[0] == "id,sku,plant_id,unit_of_sale,gtin,created_at,version,scientific_name"


@pytest.mark.parametrize(
    ("second", "code"),
    [
        ({"sku": "AN-P"}, "name-taken"),
        ({"sku": "AN-2", "gtin": GTIN}, "name-taken"),
        ({"sku": "AN-2", "gtin": f"0{GTIN}"}, "name-taken"),
        ({"sku": "AN-2", "unit_of_sale": "pot"}, "item-exists"),
    ],
)
def test_no_name_stands_for_two_things(bench: Bench, second: dict[str, Any], code: str) -> None:
    named(bench, "AN-P", gtin=GTIN)
    body = {"plant_id": bench.plants["anubias-barteri"], "unit_of_sale": "cup", **second}
    answer = bench.api.seller.post("/sales-items", body)
    assert (answer.status_code, answer.get_json()["reasons"][0]["code"]) == (409, code)
    assert len(bench.api.shop.seen("/sales-items")["items"]) == 1


def test_a_gtin_with_a_wrong_digit_is_refused_with_the_right_one(bench: Bench) -> None:
    body = {"plant_id": bench.plants["anubias-barteri"], "unit_of_sale": "cup", "sku": "A"}
    answer = bench.api.seller.post("/sales-items", {**body, "gtin": "6291041500214"})
    assert answer.status_code == 422
    assert answer.get_json()["errors"][0]["detail"] == "The check digit is wrong: it would be 3."
    assert (
        bench.api.seller.post("/sales-items", {**body, "plant_id": bench.supplier["id"]}).status_code == 422
    )


def test_a_number_may_change_on_what_was_read_and_nobody_else_may_change_it(bench: Bench) -> None:
    item = named(bench, "AN-P")
    path = f"/sales-items/{item['id']}"
    tag = bench.api.seller.get(path).headers["ETag"]
    assert bench.api.seller.send("PATCH", path, {"sku": "AN-9"}).status_code == 428
    for client in (bench.api.shop, bench.api.grower):
        assert client.send("PATCH", path, {"sku": "AN-9"}, headers={"If-Match": tag}).status_code == 403
    changed = bench.api.seller.send("PATCH", path, {"sku": "AN-9", "gtin": GTIN}, headers={"If-Match": tag})
    assert (changed.get_json()["sku"], changed.get_json()["gtin"]) == ("AN-9", GTIN)
    assert bench.api.seller.send("PATCH", path, {"sku": "X"}, headers={"If-Match": tag}).status_code == 412
    kinds = [entry["kind"] for entry in bench.api.auditor.seen("/audit?limit=200")["items"]]
    assert [kind for kind in kinds if kind.startswith("sales_item")] == [
        "sales_item.added",
        "sales_item.changed",
    ]
    assert bench.api.shop.get(f"/sales-items/{bench.supplier['id']}").status_code == 404


def test_the_inventory_calls_things_by_their_names_and_shows_what_is_out(bench: Bench) -> None:
    bench.cleared_lot(20)
    named(bench, "AN-P", gtin=GTIN)
    named(bench, "AN-C", unit_of_sale="cup")
    rows = bench.api.shop.seen("/inventory")["rows"]
    assert [(row["sku"], row["gtin"], row["available"]) for row in rows] == [
        ("AN-C", None, 0),
        ("AN-P", GTIN, 20),
    ]
    assert bench.api.shop.seen("/inventory?sku=AN-P")["rows"] == rows[1:]
    assert bench.api.shop.seen(f"/inventory?plant={bench.plants['cryptocoryne-wendtii']}")["rows"] == []


def test_what_comes_is_shown_with_its_days_also_in_a_table(bench: Bench, database: Database) -> None:
    tub = bench.tub("Q1")
    lot = coming(bench, tub, 30)
    bench.logger(tub, 30, 50, 24)
    work_done(database)
    day = listed(bench, lot)["release_day"]
    [row] = bench.api.shop.seen("/inventory")["rows"]
    assert (row["available"], row["next"]) == (0, [{"on": day, "quantity": 20}])
    table = bench.api.shop.get("/inventory", Accept="text/csv").get_data(as_text=True).splitlines()
    assert table[0].split(",")[-4:] == ["cleared", "reserved", "available", "next"]
    assert table[1].split(",")[-1] == f"{day}:20"


def test_an_order_names_a_sku(bench: Bench, cleared: str) -> None:
    named(bench, "AN-P")
    order = {"order_ref": "W-1", "lines": [{"sku": "AN-P", "quantity": 6}]}
    made = bench.api.shop.made("/reservations", order)
    assert [(line["lot_id"], line["sku"]) for line in made["lines"]] == [(cleared, "AN-P")]
    assert bench.api.shop.made("/reservations", order)["id"] == made["id"]
    assert promised(bench, cleared) == 6
    sent = bench.api.shop.made("/dispatches", {**order, "order_ref": "W-2"})
    assert [(line["lot_id"], line["sku"], line["quantity"]) for line in sent["lines"]] == [
        (cleared, "AN-P", 6)
    ]


@pytest.mark.parametrize(
    ("line", "pointer"),
    [
        ({"sku": "??"}, "#/lines/0/sku"),
        ({"sku": "AN-P", "unit_of_sale": "pot"}, "#/lines/0/lot_id"),
    ],
)
def test_a_name_that_stands_for_nothing_is_refused(bench: Bench, line: dict[str, Any], pointer: str) -> None:
    named(bench, "AN-P")
    for path in ("/reservations", "/dispatches"):
        answer = bench.api.shop.post(path, {"order_ref": "W-1", "lines": [{**line, "quantity": 1}]})
        assert answer.status_code == 422
        assert [error["pointer"] for error in answer.get_json()["errors"]] == [pointer]
