"""What no mixing sheet is made for; every reason says what to do."""

from datetime import timedelta
from typing import Any

import pytest

from tests.api import Api
from tests.make_protocols import amounts_of, dip, sheet, written
from tests.make_stores import batch_of, bleach, copper
from tests.protocols.bleaching import TODAY, bleach_dip, labelled


def refused(api: Api, **body: Any) -> Any:
    volume = {"value": 10, "unit": "L"}
    return api.grower.post(
        "/mixing-sheets", {"protocol": "own", "version": 1, "water_volume": volume, **body}
    )


@pytest.mark.parametrize(
    ("material", "substance", "dose"),
    [
        ("bleach", "chlorine", 5001),
        ("permanganate-stock", "permanganate", 101),
        ("hydrogen-peroxide", "peroxide", 10_001),
        ("copper-stock", "copper", 1.01),
        ("potassium-alum", "alum", 12_001),
        ("salt", "salt", 100_001),
    ],
)
def test_nothing_is_mixed_above_the_hard_caps(api: Api, material: str, substance: str, dose: float) -> None:
    labelled(api, 8.25)
    written(api, dip("own", material, substance, dose))
    answer = refused(api)
    assert answer.status_code == 409
    assert answer.get_json()["reasons"][0]["code"] == "over-cap"


def test_an_amount_too_small_to_measure_asks_for_a_stock_solution(api: Api) -> None:
    copper(api)
    answer = refused(api, protocol="copper-course", water_volume={"value": 0.25, "unit": "L"})
    assert answer.status_code == 409
    assert answer.get_json()["type"] == "/problems/too-small-to-measure"


def test_a_chosen_batch_must_be_there_be_usable_and_hold_the_material(api: Api) -> None:
    alum = batch_of(api, "potassium-alum", 1000, "g")["id"]
    made_on = (TODAY - timedelta(days=180)).isoformat()
    old = bleach(api, made_on=made_on, shelf_celsius=25)["id"]  # 68 % left, less than 70 %
    new = labelled(api, 8.25, batch_number="new")["id"]
    code = bleach_dip(api)
    [line] = amounts_of(sheet(api, code, 10, batches={"bleach": new}))
    assert line["batch_id"] == new
    unknown = "00000000-0000-7000-8000-000000000000"
    for batch_id, problem in (
        (alum, "wrong-material"),
        (old, "batch-not-usable"),
        (unknown, "unknown-batch"),
    ):
        answer = refused(api, protocol=code, batches={"bleach": batch_id})
        assert answer.status_code == 409
        assert answer.get_json()["type"] == f"/problems/{problem}"
    assert refused(api, protocol=code, batches={"salt": new}).status_code == 422


def test_a_bottle_used_up_is_not_chosen(api: Api) -> None:
    found = batch_of(api, "potassium-alum", 10, "g")["id"]
    body = {
        "batch_id": found,
        "quantity": {"value": 10, "unit": "g"},
        "way": "hazardous_waste",
        "reason": "wet",
    }
    api.manager.made("/stock-disposals", body)
    answer = refused(api, protocol="alum-soak", batches={"potassium-alum": found})
    assert answer.get_json()["type"] == "/problems/batch-not-usable"


def test_without_a_bottle_of_bleach_there_is_no_strength(api: Api) -> None:
    answer = refused(api, protocol="bleach-dip")
    assert answer.status_code == 409
    assert answer.get_json()["type"] == "/problems/no-strength"


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"protocol": "nothing"}, "#/protocol"),
        ({"protocol": "alum-soak", "version": 9}, "#/protocol"),
        ({"water_volume": {"value": 5, "unit": "g"}}, "#/water_volume/unit"),
        ({"water_volume": {"value": 0, "unit": "L"}}, "#/water_volume/value"),
        ({"water_volume": {"value": 5, "unit": "bucket"}}, "#/water_volume/unit"),
    ],
)
def test_bad_input_names_its_place(api: Api, changes: dict[str, Any], pointer: str) -> None:
    answer = refused(api, **{"protocol": "alum-soak", **changes})
    assert answer.status_code == 422
    assert [error["pointer"] for error in answer.get_json()["errors"]] == [pointer]
