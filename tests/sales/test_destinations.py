"""A restricted plant does not go where a list binds, and nowhere unnamed."""

from typing import Any

import pytest

from service.catalogue.rules_places import EUROPEAN_UNION, applies
from service.sales.rules_destinations import destination_reasons
from tests.api import Api
from tests.journeys.bench import Bench

LIST = {
    "jurisdiction": "EU",
    "list": "Union list of invasive alien species, Regulation (EU) 1143/2014",
    "date": "2016",
}


@pytest.mark.parametrize(
    ("jurisdiction", "country", "subdivision", "binds"),
    [
        ("EU", "DE", None, True),
        ("EU", "GB", None, False),
        ("EU", "CH", None, False),
        ("US", "US", "US-VT", True),
        ("US", "CA", None, False),
        ("US-VT", "US", "US-VT", True),
        ("US-VT", "US", "US-TX", False),
        ("US-VT", "US", None, True),
        ("US-VT", "DE", None, False),
    ],
)
def test_where_a_list_binds(jurisdiction: str, country: str, subdivision: str | None, binds: bool) -> None:
    assert applies(jurisdiction, country, subdivision) is binds


def test_the_union_has_27_members() -> None:
    """Treaty on European Union, member states after 31 January 2020 (from memory)."""
    assert len(EUROPEAN_UNION) == 27
    assert not {"GB", "NO", "CH", "IS"} & EUROPEAN_UNION


def test_a_reason_names_the_list_its_date_and_what_to_check() -> None:
    [reason] = destination_reasons("Cabomba caroliniana", [LIST], "DE", None)
    assert "Regulation (EU) 1143/2014" in reason.detail
    assert "as of 2016" in reason.detail
    assert reason.detail.endswith("Check your local list.")


def listed_plant(bench: Bench) -> str:
    """A cleared lot of a plant that is on the list of the Union."""
    plants = bench.api.grower.seen("/plants?limit=200")["items"]
    code = next(
        plant["code"]
        for plant in plants
        if any(entry["jurisdiction"] == "EU" for entry in plant["restricted"])
    )
    return bench.cleared_lot(20, plant=code)


def sent(bench: Bench, lot: str, **more: Any) -> Any:
    return bench.api.shop.post(
        "/dispatches", {"order_ref": "W-1", "lines": [{"lot_id": lot, "quantity": 1}], **more}
    )


def test_a_listed_plant_is_not_sent_where_the_list_binds(api: Api) -> None:
    bench = Bench(api)
    lot = listed_plant(bench)
    assert sent(bench, lot).status_code == 422
    answer = sent(bench, lot, ship_to={"country": "FR"})
    assert (answer.status_code, answer.get_json()["reasons"][0]["code"]) == (409, "restricted-there")
    assert bench.see(lot)["quantity"]["left"] == 20
    assert sent(bench, lot, ship_to={"country": "GB"}).status_code == 201


def test_a_subdivision_of_another_country_is_refused(api: Api) -> None:
    bench = Bench(api)
    lot = bench.cleared_lot(20)
    answer = sent(bench, lot, ship_to={"country": "DE", "subdivision": "US-VT"})
    assert answer.get_json()["errors"][0]["pointer"] == "#/ship_to/subdivision"
