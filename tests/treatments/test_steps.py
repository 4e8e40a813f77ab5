"""The steps of a treatment over HTTP: frozen sheets, stock drawn, limits of their duration."""

from datetime import datetime

import pytest

from service.core.db import Database
from tests.api import Api
from tests.make_lots import tub
from tests.make_protocols import dip, written
from tests.make_treatments import (
    changed,
    course,
    day,
    finished,
    lot,
    measured,
    planned,
    shelf,
    started,
    washed,
    when,
)


def balance(api: Api, material: str) -> float:
    [batch] = [b for b in api.grower.seen("/stock-batches")["items"] if b["material"] == material]
    unit = {"L": 1000, "kg": 1000}.get(batch["balance"]["unit"], 1)
    return float(batch["balance"]["value"]) * unit


def test_a_step_freezes_its_sheet_and_draws_its_stock(api: Api, database: Database) -> None:
    batches = shelf(api)
    place, own = tub(database, "T1"), lot(api)
    treatment = planned(api, "alum-soak", place, [own])
    ended = washed(api, treatment)
    step = started(api, treatment, 2, ended)["steps"][1]
    assert step["state"] == "running"
    assert datetime.fromisoformat(step["due_at"]) == day(ended + 2)
    # 3.5 g/L x 40 L = 140 g.
    assert step["sheet"]["amounts"][0]["measured"] == {"value": 140, "unit": "g"}
    assert step["drawn"] == [
        {
            "material": "potassium-alum",
            "batch_id": batches["potassium-alum"]["id"],
            "amount": {"value": "140", "unit": "g"},
        }
    ]
    assert balance(api, "potassium-alum") == 2000 - 140


def test_the_frozen_sheet_stays_when_the_bottle_changes(api: Api, database: Database) -> None:
    batches = shelf(api)
    place, own = tub(database, "T1"), lot(api)
    treatment = planned(api, "bleach-dip", place, [own])
    frozen = started(api, treatment, 2, washed(api, treatment))["steps"][1]["sheet"]
    address = f"/stock-batches/{batches['bleach']['id']}"
    tag = api.grower.get(address).headers["ETag"]
    body = {"measured_strength": {"value": 60, "unit": "g/L"}}
    assert api.grower.send("PATCH", address, body, headers={"If-Match": tag}).status_code == 200
    assert api.grower.seen(f"/treatments/{treatment}")["steps"][1]["sheet"] == frozen


def test_what_was_really_poured_is_drawn_in_place_of_the_sheet(api: Api, database: Database) -> None:
    batches = shelf(api)
    place, own = tub(database, "T1"), lot(api)
    treatment = planned(api, "alum-soak", place, [own])
    line = {"batch_id": batches["potassium-alum"]["id"], "amount": {"value": 150, "unit": "g"}}
    step = started(api, treatment, 2, washed(api, treatment), poured=[line])["steps"][1]
    assert step["poured"] == [line]
    assert step["result_mg_per_l"] == pytest.approx(3750)
    assert step["drawn"][0]["amount"] == {"value": "150", "unit": "g"}
    assert step["sheet"]["amounts"][0]["measured"] == {"value": 140, "unit": "g"}


def test_a_step_outside_its_limits_needs_a_departure(api: Api, database: Database) -> None:
    shelf(api)
    place, own = tub(database, "T1"), lot(api)
    treatment = planned(api, "bleach-dip", place, [own])
    ended = washed(api, treatment)
    started(api, treatment, 2, ended)
    address = f"/treatments/{treatment}/steps/2/finish"
    answer = api.grower.post(address, when(ended + 151 / 86400))
    assert answer.status_code == 422
    assert answer.get_json()["type"] == "/problems/departure-needed"
    assert [error["pointer"] for error in answer.get_json()["errors"]] == ["#/departure"]
    shown = finished(api, treatment, 2, ended + 151 / 86400, "the timer was not heard")
    assert shown["steps"][1]["departure"] == "the timer was not heard"


@pytest.mark.parametrize("seconds", [90, 120, 150])
def test_a_step_on_its_limits_needs_none(api: Api, database: Database, seconds: int) -> None:
    shelf(api)
    treatment = planned(api, "bleach-dip", tub(database, "T1"), [lot(api)])
    ended = washed(api, treatment)
    started(api, treatment, 2, ended)
    finished(api, treatment, 2, ended + seconds / 86400)


def test_a_neutralising_step_goes_by_the_reading_of_the_rinse_water(api: Api, database: Database) -> None:
    shelf(api)
    place, own = tub(database, "T1"), lot(api)
    treatment = planned(api, "bleach-dip", place, [own])
    ended = washed(api, treatment)
    started(api, treatment, 2, ended)
    finished(api, treatment, 2, ended + 2 / 1440)
    started(api, treatment, 3, ended + 2 / 1440)
    finished(api, treatment, 3, ended + 3 / 1440)
    measured(database, place, "chlorine", 10, ended + 3.5 / 1440)
    step = started(api, treatment, 4, ended + 4 / 1440)["steps"][3]
    # 10 mg/L x 40 L x 7 mg thiosulfate pentahydrate per mg of chlorine = 2.8 g.
    assert step["sheet"]["amounts"][0]["measured"] == {"value": 2.8, "unit": "g"}
    [entry] = [
        e for e in api.grower.seen("/stock-entries?material=thiosulfate")["items"] if e["reason"] != "receipt"
    ]
    assert entry["reason"] == "neutralise"


def test_every_water_change_of_a_course_counts_as_a_dose(api: Api, database: Database) -> None:
    shelf(api)
    place, own = tub(database, "T1"), lot(api)
    treatment = course(api, place, [own])
    for days in (3.1, 7.1, 10.1):
        changed(api, place, days, redose=True)
    shown = api.grower.seen(f"/treatments/{treatment}")
    assert shown["steps"][1]["result_mg_per_l"] == pytest.approx(0.4)
    entries = api.grower.seen("/stock-entries?material=copper-stock")["items"]
    assert [entry["reason"] for entry in entries] == ["receipt", "treatment", "redose", "redose", "redose"]


def test_a_protocol_of_ones_own_is_carried_out(api: Api, database: Database) -> None:
    shelf(api)
    written(api, dip("own-alum", "potassium-alum", "alum", 1, "g/L", method="alum_soak"))
    treatment = planned(
        api, "own-alum", tub(database, "T1"), [lot(api)], water_volume={"value": 10, "unit": "L"}
    )
    started(api, treatment, 1, 0.1)
    finished(api, treatment, 1, 0.1 + 60 / 86400)
    step = started(api, treatment, 2, 0.2)["steps"][1]
    assert step["drawn"][0]["amount"] == {"value": "10", "unit": "g"}
