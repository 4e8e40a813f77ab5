"""Looks over HTTP: what is taken, what is refused, and which lots are told."""

from typing import Any

import pytest

from service.core.db import Database
from tests.api import Api
from tests.make_inspections import found, look, look_body
from tests.make_lots import line, plant, received_lot, received_lots, tub, water_system
from tests.unchanged import unchanged

NOWHERE = "00000000-0000-7000-8000-000000000000"


def kinds(api: Api, lot: Any) -> list[str]:
    return [item["kind"] for item in api.auditor.seen(f"/lots/{lot['id']}/history")["items"]]


def pair_in_one_water(api: Api, database: Database) -> tuple[Any, Any, str, str]:
    """Two lots of one bag in two tubs of one water system, since six hours."""
    system = water_system(database)
    tubs = [tub(database, code, system=system) for code in ("A1", "A2")]
    lines = [line(api, bag="1", tub_id=tub_id) for tub_id in tubs]
    first, second = received_lots(api, *lines, hours=6)
    return first, second, *tubs


def test_a_full_look_that_found_nothing(api: Api) -> None:
    lot = received_lot(api, hours=2)
    made = look(api, lot_id=lot["id"], sample_size=40)
    assert made["clean"]
    assert made["full"]
    assert (made["lot_size"], made["method"], made["findings"]) == (40, "eyes", [])
    assert made["inspector"] == "the grower"
    assert api.auditor.seen(f"/inspections/{made['id']}") == made
    assert kinds(api, lot)[-1] == "inspection.recorded"


def test_a_part_of_the_lot_is_no_full_look(api: Api) -> None:
    lot = received_lot(api, hours=2)
    assert not look(api, lot_id=lot["id"], sample_size=39)["full"]


def test_dead_and_harmless_ones_are_kept_and_leave_the_look_clean(api: Api) -> None:
    lot = received_lot(api, hours=2)
    findings = [found(live=0, dead=2), found("ostracod", live=50), found("duckweed", live=3)]
    made = look(api, *findings, lot_id=lot["id"], sample_size=40)
    assert made["clean"]
    assert [finding["pest"] for finding in made["findings"]] == ["bladder_snail", "ostracod", "duckweed"]


def test_a_live_find_is_told_to_every_lot_of_the_water(api: Api, database: Database) -> None:
    first, second, _, _ = pair_in_one_water(api, database)
    alone = received_lot(api, tub_id=tub(database, "B1"), hours=6)
    made = look(api, found(removed=True), lot_id=first["id"], sample_size=40)
    assert not made["clean"]
    assert made["findings"][0]["removed"]
    assert kinds(api, first)[-1] == kinds(api, second)[-1] == "inspection.found_live"
    assert "inspection.found_live" not in kinds(api, alone)


def test_a_clean_strain_is_told_to_the_lots_of_that_tub_only(api: Api, database: Database) -> None:
    first, second, tub_id, _ = pair_in_one_water(api, database)
    made = look(api, tub_id=tub_id, method="strain")
    assert (made["tub_id"], made["sample_size"], made["full"]) == (tub_id, 0, False)
    assert kinds(api, first)[-1] == "inspection.recorded"
    assert "inspection.recorded" not in kinds(api, second)


def test_a_tub_looked_at_as_a_whole_is_all_of_its_lots(api: Api, database: Database) -> None:
    tub_id = tub(database, "B1")
    received_lots(api, line(api, bag="1", tub_id=tub_id), line(api, bag="1", tub_id=tub_id), hours=6)
    made = look(api, tub_id=tub_id)
    assert (made["sample_size"], made["lot_size"], made["full"]) == (80, 80, True)


def test_a_look_can_be_at_an_empty_tub(api: Api, database: Database) -> None:
    made = look(api, found(), tub_id=tub(database, "B1"), method="bait_night")
    assert not made["clean"]


def test_untied_bunches_are_looked_at_by_stems(api: Api) -> None:
    bunches: dict[str, Any] = {"quantity": 8, "unit_of_sale": "bunch", "stems_per_bunch": 6}
    untied = received_lot(api, **bunches, untied=True)
    assert look(api, lot_id=untied["id"], sample_size=48)["full"]
    tied = received_lot(api, **bunches)
    assert look(api, lot_id=tied["id"], sample_size=8)["full"]


def test_moss_is_sampled_by_weight_and_never_n_of_n(api: Api) -> None:
    moss = received_lot(api, plant_id=plant(api, "taxiphyllum-barbieri"), unit_of_sale="portion")
    made = look(api, lot_id=moss["id"], sample_size=400, sample_unit="g")
    assert (made["sample_unit"], made["lot_size"], made["full"]) == ("g", None, False)


def test_a_late_look_counts_what_there_was_then(api: Api) -> None:
    lot = received_lot(api, hours=30)
    api.grower.made(f"/lots/{lot['id']}/losses", {"quantity": 10, "cause": "melt"})
    assert not look(api, lot_id=lot["id"], sample_size=30, hours=28)["full"]
    assert look(api, lot_id=lot["id"], sample_size=40, hours=28)["full"]
    assert look(api, lot_id=lot["id"], sample_size=30)["full"]


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"sample_size": None}, "#/sample_size"),
        ({"sample_size": 0}, "#/sample_size"),
        ({"sample_size": 41}, "#/sample_size"),
        ({"sample_size": 4.5}, "#/sample_size"),
        ({"sample_unit": "g"}, "#/sample_unit"),
        ({"tub_id": NOWHERE}, "#/lot_id"),
        ({"lot_id": None}, "#/lot_id"),
        ({"lot_id": NOWHERE}, "#/lot_id"),
        ({"lot_id": None, "tub_id": NOWHERE}, "#/tub_id"),
        ({"method": "strain"}, "#/method"),
        ({"method": "smell"}, "#/method"),
        ({"at": "2099-01-01T00:00:00Z"}, "#/at"),
        ({"findings": [found("dragon")]}, "#/findings/0/pest"),
        ({"findings": [found(), found(live=0)]}, "#/findings/1"),
        ({"findings": [found(stage="pupa")]}, "#/findings/0/stage"),
        ({"findings": [found(live=-1)]}, "#/findings/0/live"),
    ],
)
def test_a_look_that_cannot_be_changes_nothing(
    api: Api, database: Database, body: dict[str, Any], pointer: str
) -> None:
    lot = received_lot(api, hours=2)
    asked = {**look_body(lot_id=lot["id"], sample_size=40), **body}
    with unchanged(database):
        answer = api.grower.post("/inspections", asked)
    assert answer.status_code == 422
    assert [error["pointer"] for error in answer.get_json()["errors"]] == [pointer]


def test_what_was_not_found_must_be_said(api: Api) -> None:
    lot = received_lot(api)
    answer = api.grower.post("/inspections", {"lot_id": lot["id"], "sample_size": 40})
    assert answer.get_json()["errors"][0]["pointer"] == "#/findings"


def test_nobody_looks_at_a_lot_before_it_came(api: Api) -> None:
    lot = received_lot(api, hours=2)
    answer = api.grower.post("/inspections", look_body(lot_id=lot["id"], sample_size=40, hours=3))
    assert answer.status_code == 422
    assert answer.get_json()["errors"][0]["pointer"] == "#/at"


def test_the_sales_side_makes_no_looks(api: Api) -> None:
    lot = received_lot(api)
    body = look_body(lot_id=lot["id"], sample_size=40)
    assert api.seller.post("/inspections", body).status_code == 403
    assert api.shop.get("/inspections").status_code == 403
