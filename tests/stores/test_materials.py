"""Materials over HTTP."""

from typing import Any

import pytest

from service.core.db import Database
from tests.api import Api
from tests.make_stores import batch_of, material_named
from tests.unchanged import unchanged

OWN: dict[str, Any] = {
    "code": "house-salt",
    "name": "Salt without iodine",
    "substance": "salt",
    "form": "solid",
    "strength_basis": ["mass_fraction"],
    "content_fraction": 0.99,
    "keeping": {"shelf_life_days": 3650, "opened_life_days": 3650, "source": "label", "grade": "practice"},
    "safety": {
        "protective_wear": ["gloves"],
        "disposal": "sewer",
        "cautions": ["Not into ponds."],
        "source": "label",
        "grade": "practice",
    },
    "source": "label",
    "grade": "practice",
    "pack": {"value": 5, "unit": "kg"},
}


def test_the_reference_materials_are_there_with_their_cautions(api: Api) -> None:
    found = material_named(api, "bleach")
    assert api.grower.seen(f"/materials/{found['id']}") == found
    assert "Never mix bleach with acid" in found["figures"]["safety"]["cautions"][0]
    assert found["pack"] is None


def test_a_manager_adds_a_material_of_the_house(api: Api) -> None:
    made = api.manager.made("/materials", OWN)
    assert (made["base_unit"], made["pack"]) == ("mg", {"value": "5000", "unit": "g"})
    assert made["figures"]["density_g_per_ml"] is None
    assert batch_of(api, "house-salt", 5, "kg")["strength_today"] == {"value": 0.99, "unit": "1"}


@pytest.mark.parametrize(
    ("changes", "status", "pointer"),
    [
        ({"nominal_g_per_l": 3}, 422, "#/content_fraction"),
        ({"copper_form": "ionic", "strength_basis": []}, 422, "#/strength_basis"),
        ({"substance": "magic"}, 422, "#/substance"),
        ({"pack": {"value": 1, "unit": "L"}}, 422, "#/pack/unit"),
        ({"code": "bleach"}, 409, None),
    ],
)
def test_a_material_that_cannot_be_is_refused(
    api: Api, database: Database, changes: dict[str, Any], status: int, pointer: str | None
) -> None:
    with unchanged(database):
        response = api.manager.post("/materials", {**OWN, **changes})
    assert response.status_code == status
    assert pointer is None or [e["pointer"] for e in response.get_json()["errors"]] == [pointer]


def test_lead_time_and_pack_can_be_changed(api: Api) -> None:
    material = material_named(api, "bleach")
    tag = api.manager.get(f"/materials/{material['id']}").headers["ETag"]
    body = {"lead_time_days": 3, "pack": {"value": 5, "unit": "L"}, "name": "Bleach, plain"}
    path = f"/materials/{material['id']}"
    changed = api.manager.send("PATCH", path, body, headers={"If-Match": tag}).get_json()
    assert (changed["lead_time_days"], changed["pack"]) == (3, {"value": "5", "unit": "L"})
    assert changed["name"] == "Bleach, plain"
    assert api.manager.send("PATCH", path, body, headers={"If-Match": tag}).status_code == 412


def test_terms_of_supply_are_kept_exactly(api: Api) -> None:
    path = f"/materials/{material_named(api, 'bleach')['id']}"
    terms = {
        "lead_time_deviation_days": 1.5,
        "service_level": 0.98,
        "least_order": {"value": "10", "unit": "L"},
        "pack_cost": {"value": "12.50", "currency": "EUR"},
        "order_cost": {"value": "4.00", "currency": "EUR"},
    }
    tag = api.manager.get(path).headers["ETag"]
    changed = api.manager.send("PATCH", path, terms, headers={"If-Match": tag})
    assert changed.status_code == 200
    shown = api.grower.seen(path)
    assert {name: shown[name] for name in terms} == terms
    cleared = {"pack_cost": None, "least_order": None}
    api.manager.send("PATCH", path, cleared, headers={"If-Match": changed.headers["ETag"]})
    shown = api.grower.seen(path)
    assert (shown["pack_cost"], shown["least_order"]) == (None, None)
    assert shown["order_cost"] == terms["order_cost"]


@pytest.mark.parametrize(
    ("terms", "pointer"),
    [
        ({"service_level": 1}, "#/service_level"),
        ({"service_level": 0.3}, "#/service_level"),
        ({"lead_time_deviation_days": -1}, "#/lead_time_deviation_days"),
        ({"least_order": {"value": 1, "unit": "kg"}}, "#/least_order/unit"),
        ({"pack_cost": {"value": "1.005", "currency": "EUR"}}, "#/pack_cost/value"),
        (
            {
                "pack_cost": {"value": "1", "currency": "EUR"},
                "order_cost": {"value": "1", "currency": "CHF"},
            },
            "#/pack_cost/currency",
        ),
        ({"order_cost": {"value": "1", "currency": "CHF"}}, "#/order_cost/currency"),
    ],
)
def test_terms_that_cannot_be_are_refused(
    api: Api, database: Database, terms: dict[str, Any], pointer: str
) -> None:
    path = f"/materials/{material_named(api, 'bleach')['id']}"
    first = {"pack_cost": {"value": "12.50", "currency": "EUR"}}
    tag = api.manager.get(path).headers["ETag"]
    tag = api.manager.send("PATCH", path, first, headers={"If-Match": tag}).headers["ETag"]
    with unchanged(database):
        response = api.manager.send("PATCH", path, terms, headers={"If-Match": tag})
    assert response.status_code == 422
    assert [error["pointer"] for error in response.get_json()["errors"]] == [pointer]
