"""What stands against planning a treatment; every refusal leaves the database as it was."""

from collections.abc import Callable
from typing import Any

import pytest

from service.core.db import Database
from tests.api import Api
from tests.make_lots import tub
from tests.make_stores import batch_of
from tests.make_treatments import NOWHERE, asked, carried_out, lot, planned, shelf, started, washed, when
from tests.unchanged import unchanged


def refused(api: Api, database: Database, body: dict[str, Any], code: str, status: int = 409) -> Any:
    with unchanged(database):
        answer = api.grower.post("/treatments", body)
    found = answer.get_json()
    assert (answer.status_code, found["type"]) == (status, f"/problems/{code}"), found
    return found


def test_not_enough_usable_stock(api: Api, database: Database) -> None:
    batch_of(api, "potassium-alum", 100, "g", **when(0))
    found = refused(api, database, asked("alum-soak", tub(database, "T1"), [lot(api)]), "insufficient-stock")
    assert found["reasons"][0]["needed"] == "140 g"
    assert found["reasons"][0]["have"] == "100 g"


def test_no_stock_at_all(api: Api, database: Database) -> None:
    refused(api, database, asked("bleach-dip", tub(database, "T1"), [lot(api)]), "insufficient-stock")


def test_an_open_hold(api: Api, database: Database) -> None:
    shelf(api)
    own = lot(api)
    api.seller.made(f"/lots/{own}/holds", {"cause": "complaint", "reason": "a snail in a photo"})
    found = refused(api, database, asked("alum-soak", tub(database, "T1"), [own]), "open-hold")
    assert found["current_state"] == "received"


def test_a_lot_in_treatment_already(api: Api, database: Database) -> None:
    shelf(api)
    own = lot(api)
    planned(api, "alum-soak", tub(database, "T1"), [own])
    body = asked("quarantine-only", tub(database, "T2"), [own], 0.2)
    found = refused(api, database, body, "already-in-treatment")
    assert found["current_state"] == "in_treatment"


def test_water_that_holds_other_lots(api: Api, database: Database) -> None:
    shelf(api)
    place = tub(database, "T1")
    carried_out(api, "quarantine-only", place, [lot(api)])
    body = asked("alum-soak", place, [lot(api)], 1)
    refused(api, database, body, "water-shared")
    assert api.grower.post("/treatments", {**body, "share_water": True}).status_code == 201


def test_treating_one_lot_of_a_tub_treats_the_others(api: Api, database: Database) -> None:
    shelf(api)
    place, lots = tub(database, "T1"), [lot(api), lot(api)]
    carried_out(api, "quarantine-only", place, lots)
    refused(api, database, asked("alum-soak", place, lots[:1], 1), "water-shared")
    planned(api, "alum-soak", place, lots, 1)


def test_a_tub_in_which_a_treatment_is_under_way(api: Api, database: Database) -> None:
    shelf(api)
    place = tub(database, "T1")
    planned(api, "alum-soak", place, [lot(api)])
    body = asked("alum-soak", place, [lot(api)], 0.2, share_water=True)
    refused(api, database, body, "tub-in-treatment")


@pytest.mark.parametrize("protocol", ["bleach-dip", "copper-course"])
def test_wool_gets_neither_bleach_nor_copper(api: Api, database: Database, protocol: str) -> None:
    shelf(api)
    body = asked(protocol, tub(database, "T1"), [lot(api, kept_in_wool=True)])
    refused(api, database, body, "kept-in-wool")


@pytest.mark.parametrize(("first", "then"), [("bleach-dip", "alum-soak"), ("alum-soak", "bleach-dip")])
def test_bleach_and_alum_never_follow_each_other_unrinsed(
    api: Api, database: Database, first: str, then: str
) -> None:
    shelf(api)
    place, own = tub(database, "T1"), lot(api)
    treatment = planned(api, first, place, [own])
    started(api, treatment, 2, washed(api, treatment))
    api.grower.made(f"/treatments/{treatment}/abandon", {**when(0.2), "reason": "alarm"})
    # The lot carries it into another tub, and the tub keeps it for other lots.
    refused(api, database, asked(then, tub(database, "T2"), [own], 0.3), "unsafe-sequence")
    api.grower.made(
        f"/lots/{own}/moves",
        {**when(0.4), "to": "in_quarantine", "tub_id": tub(database, "T3"), "reason": "out"},
    )
    found = refused(api, database, asked(then, place, [lot(api)], 0.5), "unsafe-sequence")
    assert "rinse" in found["reasons"][0]["needed"]


def used(api: Api, tool: str, place: str, day: float) -> None:
    api.grower.made(f"/tools/{tool}/uses", {"tub_id": place, **when(day)})


def test_a_net_from_the_bleach_may_not_go_into_the_alum(api: Api, database: Database) -> None:
    shelf(api)
    place, clean = tub(database, "T1"), tub(database, "T2")
    net = api.grower.made("/tools", {"code": "net 1", "kind": "net"})["id"]
    body = {**asked("alum-soak", clean, [lot(api)], 0.3), "tool_ids": [net]}
    treatment = planned(api, "bleach-dip", place, [lot(api)])
    started(api, treatment, 2, washed(api, treatment))
    used(api, net, place, 0.2)
    refused(api, database, body, "unsafe-sequence")
    assert api.grower.post("/treatments", {**body, "tool_ids": []}).status_code == 201


def test_a_bucket_that_was_bleached_may_not_go_into_the_alum(api: Api, database: Database) -> None:
    shelf(api)
    bucket = api.grower.made("/tools", {"code": "bucket 1", "kind": "bucket"})["id"]
    bleached = {"method": "bleach", "minutes": 20, **when(0.1)}
    api.grower.made(f"/tools/{bucket}/disinfections", bleached)
    body = {**asked("alum-soak", tub(database, "T1"), [lot(api)], 0.3), "tool_ids": [bucket]}
    refused(api, database, body, "unsafe-sequence")


def test_a_tool_that_only_touched_clean_water_may_go_into_any_bath(api: Api, database: Database) -> None:
    shelf(api)
    net = api.grower.made("/tools", {"code": "net 1", "kind": "net"})["id"]
    used(api, net, tub(database, "T2"), 0.1)
    body = {**asked("alum-soak", tub(database, "T1"), [lot(api)], 0.3), "tool_ids": [net]}
    assert api.grower.post("/treatments", body).status_code == 201


BAD: list[tuple[Callable[[dict[str, Any]], dict[str, Any]], str]] = [
    (lambda body: {**body, "protocol": "elixir"}, "#/protocol"),
    (lambda body: {**body, "version": 7}, "#/protocol"),
    (lambda body: {**body, "tub_id": NOWHERE}, "#/tub_id"),
    (lambda body: {**body, "lot_ids": [*body["lot_ids"], NOWHERE]}, "#/lot_ids/1"),
    (lambda body: {**body, "lot_ids": body["lot_ids"] * 2}, "#/lot_ids/1"),
    (lambda body: {**body, "lot_ids": []}, "#/lot_ids"),
    (lambda body: {**body, "tool_ids": [NOWHERE]}, "#/tool_ids/0"),
    (lambda body: {**body, "water_volume": {"value": 41, "unit": "L"}}, "#/water_volume"),
    (lambda body: {**body, "water_volume": {"value": 41, "unit": "g"}}, "#/water_volume/unit"),
    (lambda body: {**body, **when(-1)}, "#/at"),
    (lambda body: {**body, "at": "2098-01-01T00:00:00Z"}, "#/at"),
]


@pytest.mark.parametrize(("spoil", "pointer"), BAD)
def test_bad_input_names_its_place(
    api: Api, database: Database, spoil: Callable[[dict[str, Any]], dict[str, Any]], pointer: str
) -> None:
    shelf(api)
    body = asked("alum-soak", tub(database, "T1"), [lot(api)])
    with unchanged(database):
        answer = api.grower.post("/treatments", spoil(body))
    assert answer.status_code == 422
    assert [error["pointer"] for error in answer.get_json()["errors"]] == [pointer]


def test_only_the_bench_treats(api: Api, database: Database) -> None:
    body = asked("quarantine-only", tub(database, "T1"), [lot(api)])
    for client in (api.seller, api.shop, api.auditor):
        assert client.post("/treatments", body).status_code == 403
