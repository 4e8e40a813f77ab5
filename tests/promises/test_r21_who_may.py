"""R21: who may do what is exactly the matrix: by address, by object, by member."""

import re
from collections.abc import Iterator
from typing import Any

import pytest
from flask import Flask

from service.core.ids import new_id
from tests.api import Api, Client, Contract
from tests.journeys.bench import Bench
from tests.make_sales import order, reserved
from tests.promises.roles_matrix import MATRIX

EXAMPLES = {
    "n": "1",
    "number": "1",
    "code": "soak",
    "method": "bleach",
    "serial": "0" * 26,
    "sha256": "0" * 64,
}
VERBS = {"GET", "POST", "PUT", "PATCH", "DELETE"}


def cells() -> Iterator[tuple[str, str, frozenset[str]]]:
    """Every address of the matrix with its method and who may."""
    for roles, lines in MATRIX.items():
        for line in lines.strip().splitlines():
            *methods, path = line.split()
            for method in methods:
                yield method, path, frozenset(roles.split())


def address(path: str) -> str:
    """An address of this form; ids of nothing."""
    return re.sub(r"\{(\w+)\}", lambda found: EXAMPLES.get(found[1], new_id()), path)


def clients(api: Api) -> dict[str, Client]:
    return {role.value: api.with_token(secret) for role, secret in api.tokens.items()}


@pytest.mark.promise(r=21)
def test_the_matrix_names_every_address_and_no_other(served: tuple[Flask, Contract]) -> None:
    there = {
        f"{method.upper()} {path.removeprefix('/api/v1')}"
        for path, item in served[1].document["paths"].items()
        for method in item
        if path.startswith("/api/v1/") and method.upper() in VERBS
    }
    named = [f"{method} {path}" for method, path, _ in cells()]
    assert len(named) == len(set(named))
    assert set(named) == there


@pytest.mark.promise(r=21)
def test_each_role_is_let_in_exactly_where_the_matrix_says(api: Api) -> None:
    wrong = []
    callers = clients(api)
    for method, path, roles in cells():
        for role, client in callers.items():
            status = client.send(method, address(path), None if method == "GET" else {}).status_code
            if (status != 403) != (role in roles):
                wrong.append(f"{role} {method} {path}: {status}")
    assert wrong == []


def other_shop(bench: Bench, name: str = "the other shop") -> Client:
    """A shop with a token of this name."""
    made = bench.api.owner.made("/tokens", {"name": name, "role": "shop"})
    return bench.api.with_token(made["secret"])


def said_of(answer: Any) -> Any:
    """A problem document without the address that was asked."""
    return {name: value for name, value in answer.get_json().items() if name != "instance"}


@pytest.mark.promise(r=21)
def test_a_shop_finds_no_promise_of_another_shop_as_it_finds_none_that_is_not_there(
    bench: Bench, cleared: str
) -> None:
    made, other = reserved(bench, cleared, 6), other_shop(bench)
    for method, end in (("GET", ""), ("DELETE", ""), ("POST", "/confirmation")):
        body: Any = {} if method == "POST" else None
        anothers = other.send(method, f"/reservations/{made['id']}{end}", body)
        nobodys = other.send(method, f"/reservations/{new_id()}{end}", body)
        assert anothers.status_code == 404
        assert said_of(anothers) == said_of(nobodys)
    assert other.seen("/reservations")["items"] == []
    assert bench.api.shop.seen(f"/reservations/{made['id']}")["status"] == "open"


@pytest.mark.promise(r=21)
def test_a_shop_neither_takes_nor_sends_what_was_promised_to_another(bench: Bench, cleared: str) -> None:
    made, other = reserved(bench, cleared, 6), other_shop(bench)
    same = other.post("/reservations", order(cleared, 6))
    assert (same.status_code, same.get_json()["reasons"][0]["code"]) == (409, "order-reserved")
    sent = other.post("/dispatches", {"order_ref": "W-1", "reservation_id": made["id"], "lines": []})
    assert sent.status_code == 404
    assert bench.see(cleared)["quantity"]["reserved"] == 6


@pytest.mark.promise(r=21)
def test_a_shop_sees_what_the_house_sent_of_its_promise_and_nothing_of_others(
    bench: Bench, cleared: str
) -> None:
    made, other = reserved(bench, cleared, 6), other_shop(bench)
    sent = bench.api.seller.made(
        "/dispatches", {"order_ref": "W-1", "reservation_id": made["id"], "lines": []}
    )
    assert [found["id"] for found in bench.api.shop.seen("/dispatches")["items"]] == [sent["id"]]
    assert other.seen("/dispatches")["items"] == []


@pytest.mark.promise(r=21)
def test_a_new_token_of_the_same_name_goes_on_where_the_old_one_ended(bench: Bench, cleared: str) -> None:
    old, new = other_shop(bench), other_shop(bench)
    made = old.made("/reservations", order(cleared, 6))
    assert new.seen(f"/reservations/{made['id']}")["id"] == made["id"]


@pytest.mark.promise(r=21)
def test_the_house_sees_the_promises_of_every_shop(bench: Bench, cleared: str) -> None:
    made = reserved(bench, cleared, 6)
    for client in (bench.api.owner, bench.api.manager, bench.api.seller, bench.api.auditor):
        assert [found["id"] for found in client.seen("/reservations")["items"]] == [made["id"]]


@pytest.mark.promise(r=21)
def test_a_key_of_another_caller_is_another_key(api: Api) -> None:
    body = {"name": "Brookside Aquatics", "country": "PT"}
    one = api.grower.post("/suppliers", body, Idempotency_Key="k")
    other = api.manager.post("/suppliers", {**body, "name": "Fenmarsh"}, Idempotency_Key="k")
    assert (one.status_code, other.status_code) == (201, 201)
    assert "Idempotency-Replayed" not in other.headers


@pytest.mark.promise(r=21)
def test_members_that_the_service_keeps_are_refused_of_everybody(api: Api) -> None:
    """Mass assignment: what only the service decides cannot be sent."""
    body = {"name": "Brookside Aquatics", "country": "PT"}
    for kept in ("id", "version", "created_at", "created_by"):
        answer = api.owner.post("/suppliers", {**body, kept: "1"})
        assert [error["pointer"] for error in answer.get_json()["errors"]] == [f"#/{kept}"]
