"""The published description is valid, whole and true of every route."""

from collections.abc import Iterator
from typing import Any

import pytest
from flask import Flask
from openapi_spec_validator import validate
from werkzeug.routing import Rule

from service.accounts.rules import Role
from tests.api import ARGUMENT, Api, Contract

CONTRACT = """
GET POST /suppliers
GET PATCH /suppliers/{id}
GET POST /plants
GET PATCH /plants/{id}
POST /plants/import/preview
POST /plants/import
PUT /plants/{id}/tolerances/{method}
GET /pests
GET POST /materials
GET PATCH /materials/{id}
POST /materials/{id}/batches
GET /stock-batches
GET /stock-batches/{id}/uses
GET POST /shelves
GET /shelves/{id}
GET POST /shelves/{id}/temperatures
POST /shelf-readings/{id}/void
POST /stock-receipts/preview
POST /stock-receipts
GET /stock-entries
POST /stock-counts
POST /stock-disposals
POST /stock-uses
POST /stock-entries/{id}/reversal
GET POST /protocols
POST /protocols/{code}/versions
GET /protocols/{code}/versions/{n}
GET POST /tubs
GET PATCH /tubs/{id}
GET POST /water-systems
GET /water-systems/{id}
GET POST /tools
GET /tools/{id}
POST /tools/{id}/uses
POST /tools/{id}/disinfections
POST /tubs/{id}/moves
GET POST /tubs/{id}/measurements
GET POST /tubs/{id}/temperatures
POST /tubs/{id}/temperatures/preview
POST /temperatures/{id}/void
POST /tubs/{id}/water-changes
POST GET /shipments
GET /shipments/{id}
POST /shipments/import/preview
POST /shipments/import
POST /shipments/{id}/receipt
GET /lots
GET /lots/{id}
POST /lots/{id}/moves
POST /lots/{id}/repack
POST /lots/{id}/splits
POST /lots/{id}/losses
POST /lots/{id}/rejection
POST /lots/{id}/holds
DELETE /lots/{id}/holds/{hold}
GET /lots/{id}/certificates
GET /lots/{id}/history
GET POST /lots/{id}/clearance
GET /lots/{id}/trace
GET /suppliers/{id}/record
GET POST /complaints
GET /complaints/{id}
POST /complaints/{id}/verdict
GET POST /recalls
GET /recalls/{id}
GET /recalls/{id}/customers
POST /recalls/{id}/notices
POST /recalls/{id}/extension
POST /recalls/{id}/closing
POST /mixing-sheets
GET /sampling-plan
GET POST /treatments
GET /treatments/{id}
POST /treatments/{id}/steps/{n}/start
POST /treatments/{id}/steps/{n}/finish
POST /treatments/{id}/finish
POST /treatments/{id}/abandon
GET POST /baths
GET /baths/{id}
POST /baths/{id}/readings
POST /baths/{id}/discard
GET POST /inspections
POST /inspections/{id}/void
GET POST /policies
GET /policies/{code}/versions/{n}
GET /certificates
GET /certificates/{serial}
GET /certificates/{serial}.pdf
GET /certificates/{serial}/replay
POST /certificates/{serial}/revocation
GET /labels.pdf
GET /inventory
GET POST /sales-items
GET PATCH /sales-items/{id}
GET POST /reservations
GET DELETE /reservations/{id}
POST /reservations/{id}/confirmation
GET POST /dispatches
POST /dispatches/{id}/reversal
GET POST /dispatches/{id}/certificates
GET /due-work
GET POST /trials
GET /trials/{id}
GET POST /trials/{id}/observations
POST /trials/{id}/close
GET /trials/{id}/result
POST /trials/{id}/adoption
GET /reports/consumption
GET /reports/losses
GET /reports/reorder
GET /reports/outcomes
GET /reports/projection
GET POST /users
PATCH /users/{id}
GET /events
GET /epcis/events
GET POST /webhooks
GET DELETE /webhooks/{id}
POST /webhooks/{id}/rotation
GET /webhooks/{id}/deliveries
POST /deliveries/{id}/redelivery
GET POST /tokens
DELETE /tokens/{id}
GET PATCH /settings
GET /audit
GET /audit/check
"""
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


def test_every_route_says_who_may_call_it(served: tuple[Flask, Contract]) -> None:
    app, _ = served
    for rule in rules(app):
        roles = roles_of(app, rule)
        assert roles, rule.rule
        assert roles <= set(Role), rule.rule


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


def test_an_auditor_changes_nothing(served: tuple[Flask, Contract]) -> None:
    app, _ = served
    for rule in rules(app):
        if Role.AUDITOR in roles_of(app, rule):
            changing = (rule.methods or set()) - {"GET", "HEAD", "OPTIONS"}
            assert not changing or rule.rule == "/api/v1/mixing-sheets", rule.rule


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
