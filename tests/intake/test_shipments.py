"""Shipments over HTTP: received at once, or expected and received later."""

from concurrent.futures import ThreadPoolExecutor
from datetime import UTC, datetime

from hypothesis import given
from hypothesis import strategies as st

from service.core.db import Database
from service.intake.rules import lot_code, shipment_code
from tests.api import Api
from tests.make_lots import LATE, hours_ago, line, plant, received_lots, shipment_body, supplier, tub

NOBODY = "018f0000-0000-7000-8000-000000000000"


def test_a_shipment_that_is_here_makes_its_lots(api: Api) -> None:
    papers = [{"kind": "plant_passport", "number": "NL-0000-001"}]
    body = shipment_body(api, line(api), line(api, quantity=8, unit_of_sale="bunch"), documents=papers)
    made = api.grower.made("/shipments", body)
    year = f"{datetime.now(UTC):%y}"
    assert made["code"] == f"{year}-001"
    assert [lot["code"] for lot in made["lots"]] == [f"{year}-001-01", f"{year}-001-02"]
    assert {lot["state"] for lot in made["lots"]} == {"received"}
    assert made["documents"] == papers
    assert api.auditor.seen(f"/shipments/{made['id']}") == made


def test_shipments_of_a_year_are_numbered_in_turn(api: Api) -> None:
    first, second = (api.grower.made("/shipments", shipment_body(api))["code"] for _ in range(2))
    assert int(second[3:]) == int(first[3:]) + 1


def test_two_shipments_at_once_get_two_codes(api: Api) -> None:
    body = shipment_body(api)
    with ThreadPoolExecutor(4) as pool:
        answers = list(pool.map(lambda _: api.grower.post("/shipments", body), range(8)))
    made = [answer.get_json()["code"] for answer in answers if answer.status_code == 201]
    assert len(made) == len(set(made)) == 8


def test_the_lot_keeps_what_the_line_said(api: Api) -> None:
    told = {
        "unit_of_sale": "bunch",
        "stems_per_bunch": 6,
        "untied": True,
        "kept_in_wool": True,
        "bag": "A",
        "supplier_treatment": "unknown",
    }
    [lot] = received_lots(api, line(api, **told))
    assert {name: lot[name] for name in told if name != "supplier_treatment"} == {
        name: value for name, value in told.items() if name != "supplier_treatment"
    }
    assert lot["supplier_treatment_unknown"] is True


def test_wrong_lines_are_named_by_their_pointer(api: Api) -> None:
    good = line(api)
    cases = [
        ([{**good, "quantity": 0}], "#/lines/0/quantity"),
        ([good, {**good, "quantity": 5.7}], "#/lines/1/quantity"),
        ([good, good, {**good, "plant_id": NOBODY}], "#/lines/2/plant_id"),
        ([{**good, "tub_id": NOBODY}], "#/lines/0/tub_id"),
        ([{**good, "stems_per_bunch": 6}], "#/lines/0/stems_per_bunch"),
        ([{**good, "unit_of_sale": "crate"}], "#/lines/0/unit_of_sale"),
    ]
    for lines, pointer in cases:
        answer = api.grower.post("/shipments", shipment_body(api, *lines))
        assert answer.status_code == 422
        assert [error["pointer"] for error in answer.get_json()["errors"]] == [pointer]
    assert api.grower.seen("/lots")["items"] == []
    assert api.grower.seen("/shipments")["items"] == []


def test_an_unknown_supplier_is_named(api: Api) -> None:
    answer = api.grower.post("/shipments", {"supplier_id": NOBODY, "lines": [line(api)]})
    assert answer.get_json()["errors"][0]["pointer"] == "#/supplier_id"


def test_a_receipt_in_the_future_or_late_without_a_word_is_refused(api: Api) -> None:
    for hours, pointer in ((-1, "#/received_at"), (30, "#/late_reason")):
        body = shipment_body(api, received_at=hours_ago(hours))
        assert api.grower.post("/shipments", body).get_json()["errors"][0]["pointer"] == pointer
    api.grower.made("/shipments", shipment_body(api, received_at=hours_ago(30), late_reason=LATE))


def test_an_expected_shipment_has_no_lots_until_it_comes(api: Api) -> None:
    body = shipment_body(api, line(api), line(api, quantity=10), line(api), expected_on="2026-12-01")
    expected = api.grower.made("/shipments", body)
    assert expected["lots"] == []
    assert expected["received_at"] is None
    counts = {"lines": [{"n": 2, "quantity": 9}, {"n": 3, "quantity": 0}]}
    here = api.grower.made(f"/shipments/{expected['id']}/receipt", counts)
    assert [lot["code"][-2:] for lot in here["lots"]] == ["01", "02"]
    assert [lot["quantity"]["received"] for lot in api.grower.seen("/lots")["items"]] == [40, 9]
    assert [row["quantity"] for row in here["lines"]] == [40, 10, 40]
    again = api.grower.post(f"/shipments/{expected['id']}/receipt", {})
    assert again.get_json()["type"] == "/problems/already-received"
    assert again.status_code == 409


def test_counts_of_no_line_are_refused(api: Api) -> None:
    expected = api.grower.made("/shipments", shipment_body(api, expected_on="2026-12-01"))
    counts = {"lines": [{"n": 1, "quantity": 1}, {"n": 2, "quantity": 1}]}
    answer = api.grower.post(f"/shipments/{expected['id']}/receipt", counts)
    assert answer.get_json()["errors"][0]["pointer"] == "#/lines/1/n"


def test_lots_go_straight_into_their_tub(api: Api, database: Database) -> None:
    place = tub(database, "R1")
    [lot] = received_lots(api, line(api, tub_id=place))
    assert lot["tub_id"] == place


def test_lines_of_one_bag_share_a_tub_unasked_but_others_do_not(api: Api, database: Database) -> None:
    place = tub(database, "R1")
    strangers = shipment_body(api, line(api, tub_id=place), line(api, tub_id=place))
    answer = api.grower.post("/shipments", strangers)
    assert answer.status_code == 409
    assert answer.get_json()["type"] == "/problems/water-shared"
    assert api.grower.seen("/lots")["items"] == []
    bag = [line(api, tub_id=place, bag="A"), line(api, tub_id=place, bag="A")]
    for lot in received_lots(api, *bag):
        kinds = [item["kind"] for item in api.auditor.seen(f"/lots/{lot['id']}/history")["items"]]
        assert kinds == ["lot.received", "shipment.received", "lot.moved"]
    other = tub(database, "R2")
    api.grower.made(
        "/shipments", shipment_body(api, line(api, tub_id=other), line(api, tub_id=other), share_water=True)
    )


def test_shipments_are_listed_by_supplier_and_by_being_expected(api: Api) -> None:
    here = api.grower.made("/shipments", shipment_body(api))
    other = {
        "supplier_id": supplier(api, "Elm Water Plants"),
        "lines": [line(api)],
        "expected_on": "2026-12-01",
    }
    awaited = api.grower.made("/shipments", other)
    ids = {
        query: [found["id"] for found in api.seller.seen(f"/shipments?{query}")["items"]]
        for query in ("", "expected=true", "expected=false", f"supplier={other['supplier_id']}")
    }
    assert list(ids.values()) == [[here["id"], awaited["id"]], [awaited["id"]], [here["id"]], [awaited["id"]]]


def test_what_is_not_there_is_not_found(api: Api) -> None:
    assert api.grower.get(f"/shipments/{NOBODY}").status_code == 404
    assert api.grower.post(f"/shipments/{NOBODY}/receipt").status_code == 404


def test_a_seller_reads_shipments_but_takes_none_in(api: Api) -> None:
    assert api.seller.post("/shipments", {"supplier_id": NOBODY, "lines": []}).status_code == 403
    assert plant(api)


@given(st.dates(), st.integers(1, 5000), st.integers(1, 200))
def test_codes_of_lots_name_one_line_of_one_shipment(day: object, number: int, n: int) -> None:
    code = shipment_code(day, number)  # type: ignore[arg-type]  # a date
    assert lot_code(code, n).rsplit("-", 1) == [code, f"{n:02d}"]
