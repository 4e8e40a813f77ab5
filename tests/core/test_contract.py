"""The published description is valid, whole and true of every route."""

from collections.abc import Iterator
from typing import Any

import pytest
from flask import Flask
from openapi_spec_validator import validate
from werkzeug.routing import Rule

from service.accounts.rules import Role
from tests.api import ARGUMENT, Api, Contract
from tests.core.contract import CONTRACT

FIXED = {
    f"{method} {line.split()[-1]}" for line in CONTRACT.strip().splitlines() for method in line.split()[:-1]
}


@pytest.fixture
def document(served: tuple[Flask, Contract]) -> Any:
    return served[1].document


def operations(document: Any) -> Iterator[tuple[str, str, Any]]:
    for path, item in document["paths"].items():
        for method, operation in item.items():
            if method != "parameters":
                yield method.upper(), path, operation


def rules(app: Flask) -> Iterator[Rule]:
    return (rule for rule in app.url_map.iter_rules() if rule.rule.startswith("/api/v1/"))


def roles_of(app: Flask, rule: Rule) -> frozenset[str]:
    return getattr(app.view_functions[rule.endpoint], "roles", frozenset())


def test_the_description_is_valid_openapi_3_1(document: Any) -> None:
    validate(document)  # openapi-spec-validator: an independent reading of the standard
    assert document["openapi"] == "3.1.0"


def test_every_address_of_the_contract_is_there(document: Any) -> None:
    there = set()
    for method, path, _ in operations(document):
        parts = path.removeprefix("/api/v1").split("/")
        there.add(f"{method} {'/'.join(_general(part, n, parts) for n, part in enumerate(parts))}")
    assert FIXED - there == set()


def _general(part: str, n: int, parts: list[str]) -> str:
    if not part.startswith("{"):
        return part
    names = {
        "versions": "{n}",
        "steps": "{n}",
        "tolerances": "{method}",
        "holds": "{hold}",
        "certificates": "{serial}",
    }
    name = "{code}" if parts[n - 1] in {"protocols", "policies"} else names.get(parts[n - 1], "{id}")
    return name + part.partition("}")[2]  # {serial}.pdf


def test_every_route_is_described(served: tuple[Flask, Contract]) -> None:
    app, contract = served
    for rule in rules(app):
        item = contract.document["paths"][ARGUMENT.sub(r"{\1}", rule.rule)]
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}:
            assert method.lower() in item


def test_every_operation_lists_the_problems_it_answers_with_and_no_catch_all(document: Any) -> None:
    for method, path, operation in operations(document):
        assert "default" not in operation["responses"], (method, path)
        assert "401" in operation["responses"], (method, path)
        assert operation["summary"], (method, path)


@pytest.mark.promise(r=21)
def test_every_route_says_who_may_call_it(served: tuple[Flask, Contract]) -> None:
    app, _ = served
    for rule in rules(app):
        roles = roles_of(app, rule)
        assert roles, rule.rule
        assert roles <= set(Role), rule.rule


@pytest.mark.promise(r=21)
def test_a_shop_can_neither_clear_nor_touch_the_bench(served: tuple[Flask, Contract]) -> None:
    app, _ = served
    allowed = {
        f"{method} {rule.rule.removeprefix('/api/v1')}"
        for rule in rules(app)
        for method in (rule.methods or set()) - {"HEAD", "OPTIONS"}
        if Role.SHOP in roles_of(app, rule)
    }
    assert allowed == {
        "GET /inventory",
        "GET /sales-items",
        "GET /sales-items/<id:item_id>",
        "GET /reservations",
        "POST /reservations",
        "GET /reservations/<id:reservation_id>",
        "DELETE /reservations/<id:reservation_id>",
        "POST /reservations/<id:reservation_id>/confirmation",
        "GET /dispatches",
        "POST /dispatches",
        "GET /events",
    }


@pytest.mark.promise(r=21)
def test_an_auditor_changes_nothing(served: tuple[Flask, Contract]) -> None:
    app, _ = served
    for rule in rules(app):
        if Role.AUDITOR in roles_of(app, rule):
            changing = (rule.methods or set()) - {"GET", "HEAD", "OPTIONS"}
            assert not changing or rule.rule == "/api/v1/mixing-sheets", rule.rule


@pytest.mark.promise(r=21)
def test_no_token_opens_no_address(api: Api, served: tuple[Flask, Contract]) -> None:
    for method, path, _ in operations(served[1].document):
        if path.startswith("/api/"):
            address = ARGUMENT.sub("x", path.replace("{", "<").replace("}", ">"))
            answer = api.nobody.send(method, address, {} if method != "GET" else None)
            assert answer.status_code in {401, 404}, (method, path)


def test_the_page_that_shows_it_needs_no_other_host(api: Api) -> None:
    page = api.nobody.get("/docs").get_data(as_text=True)
    assert "http" not in page.replace("HTTP", "")
    for file in ("swagger-ui-bundle.js", "swagger-ui.css", "start.js"):
        assert f"/docs/{file}" in page
        assert api.nobody.get(f"/docs/{file}").status_code == 200
