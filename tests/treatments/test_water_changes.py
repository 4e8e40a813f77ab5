"""Water changes and the re-dose of a course; V max(0, T - C_after), worked by hand."""

from datetime import datetime, timedelta
from typing import Any

import pytest

from service.core.db import Database
from service.treatments.queries import treatment_facts
from tests.api import Api
from tests.make_lots import tub
from tests.make_protocols import written
from tests.make_stores import copper
from tests.make_treatments import (
    carried_out,
    changed,
    course,
    day,
    finished,
    lot,
    measured,
    planned,
    shelf,
    started,
    when,
)
from tests.unchanged import unchanged


def strong_course(api: Api, database: Database) -> tuple[str, str]:
    """(tub, treatment): 0.5 mg/L held in 40 L from a bottle of 18 g/L, without loss."""
    copper(api, 0.1, strength={"value": 18, "unit": "g/L"}, copper_form="ionic", **when(0))
    held = {"substance": "copper", "value": 0.5, "unit": "mg/L", "decay_per_day": 0.15}
    steps = [
        {
            "n": 1,
            "kind": "soak",
            "title": "Hold",
            "duration": {"target_s": 2419200, "min_s": 1, "max_s": 3024000},
            "material": "copper-stock",
            "dose": {"value": 0.5, "unit": "mg/L"},
        }
    ]
    written(
        api,
        {
            "code": "own-copper",
            "method": "copper_course",
            "name": "Own copper",
            "substance": "copper",
            "target": {"substance": "copper", "value": 0.5, "unit": "mg/L"},
            "steps": steps,
            "maintained_dose": held,
            "water_change": {"every_days": [3, 4], "fraction": 1.0, "redose": True},
            "cautions": ["Own nets."],
            "disposal": "Collect it.",
        },
    )
    place = tub(database, "T1")
    treatment = planned(api, "own-copper", place, [lot(api)])
    started(api, treatment, 1, 0.1)
    return place, treatment


def millilitres(made: dict[str, Any]) -> float:
    assert all(line["amount"]["unit"] == "mL" for line in made["drawn"])
    return sum(float(line["amount"]["value"]) for line in made["drawn"])


@pytest.mark.parametrize(
    ("read", "fraction", "after", "ml", "result"),
    [(0.35, 1.0, 0.007, 1.10, 0.502), (0.30, 0.5, 0.15, 0.80, 0.510)],
)
def test_the_redose_takes_off_what_is_left(
    api: Api, database: Database, read: float, fraction: float, after: float, ml: float, result: float
) -> None:
    place, treatment = strong_course(api, database)
    measured(database, place, "copper", read, 3.1)
    made = changed(api, place, 3.1, fraction=fraction, redose=True)
    assert made["before_mg_per_l"] == pytest.approx(read)
    assert made["after_change_mg_per_l"] == pytest.approx(after)
    assert millilitres(made) == ml
    assert made["dose_mg_per_l"] == pytest.approx(result, abs=5e-4)
    assert made["treatment_id"] == treatment


def test_without_a_reading_the_loss_is_counted(api: Api, database: Database) -> None:
    place, _ = strong_course(api, database)
    first = 40 * 0.5 / 18
    given = 1.1 * 18 / 40
    made = changed(api, place, 3.6, fraction=0.5, redose=True)
    assert first == pytest.approx(1.111, rel=1e-3)
    # 0.495 exp(-0.15 x 3.5) = 0.2928
    assert made["before_mg_per_l"] == pytest.approx(given * 0.59156, rel=1e-4)


def test_above_the_target_nothing_is_poured(api: Api, database: Database) -> None:
    place, _ = strong_course(api, database)
    measured(database, place, "copper", 0.9, 3.1)
    made = changed(api, place, 3.1, fraction=0.1, redose=True)
    assert made["drawn"] == []
    assert made["dose_mg_per_l"] == pytest.approx(0.81)
    assert made["extra_change"] == pytest.approx(1 - 0.5 / 0.81)


def test_what_was_poured_counts(api: Api, database: Database) -> None:
    place, _ = strong_course(api, database)
    [batch] = api.grower.seen("/stock-batches")["items"]
    measured(database, place, "copper", 0.35, 3.1)
    line = {"batch_id": batch["id"], "amount": {"value": 1.2, "unit": "mL"}}
    made = changed(api, place, 3.1, redose=True, poured=[line])
    assert millilitres(made) == 1.2
    assert made["dose_mg_per_l"] == pytest.approx(0.007 + 1.2 * 18 / 40)
    with unchanged(database):
        too_much = {"batch_id": batch["id"], "amount": {"value": 3, "unit": "mL"}}
        body = {**when(7.1), "redose": True, "poured": [too_much]}
        answer = api.grower.post(f"/tubs/{place}/water-changes", body)
    assert answer.get_json()["type"] == "/problems/over-cap"


def test_the_next_change_is_due_in_the_rhythm(api: Api, database: Database) -> None:
    shelf(api)
    place = tub(database, "T1")
    course(api, place, [lot(api)])
    first = changed(api, place, 3.2, redose=True)
    second = changed(api, place, 7.2, redose=True)
    assert datetime.fromisoformat(first["due_next"]) == day(3.2) + timedelta(days=4)
    assert datetime.fromisoformat(second["due_next"]) == day(7.2) + timedelta(days=3)


def test_in_quarantine_water_is_changed_twice_a_week(api: Api, database: Database) -> None:
    shelf(api)
    place = tub(database, "T1")
    carried_out(api, "quarantine-only", place, [lot(api)])
    made = changed(api, place, 3.2)
    assert (made["drawn"], made["redose"], made["dose_mg_per_l"]) == ([], False, None)
    assert datetime.fromisoformat(made["due_next"]) == day(3.2) + timedelta(days=4)


def test_an_empty_tub_owes_no_water(api: Api, database: Database) -> None:
    assert changed(api, tub(database, "T1"), 1)["due_next"] is None


def test_where_no_dose_is_held_nothing_is_redosed(api: Api, database: Database) -> None:
    shelf(api)
    place = tub(database, "T1")
    carried_out(api, "alum-soak", place, [lot(api)])
    with unchanged(database):
        answer = api.grower.post(f"/tubs/{place}/water-changes", {**when(5), "redose": True})
    assert answer.status_code == 409
    assert answer.get_json()["type"] == "/problems/nothing-to-redose"


def test_the_dose_ends_with_the_course(api: Api, database: Database) -> None:
    shelf(api)
    place = tub(database, "T1")
    treatment = course(api, place, [lot(api)])
    finished(api, treatment, 2, 28.2)
    answer = api.grower.post(f"/tubs/{place}/water-changes", {**when(29), "redose": True})
    assert answer.get_json()["type"] == "/problems/nothing-to-redose"


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"fraction": 0}, "#/fraction"),
        ({"fraction": 1.1}, "#/fraction"),
        ({"fraction": "half"}, "#/fraction"),
        ({"at": "2098-01-01T00:00:00Z"}, "#/at"),
        (
            {
                "poured": [
                    {
                        "batch_id": "00000000-0000-7000-8000-000000000000",
                        "amount": {"value": 1, "unit": "mL"},
                    }
                ]
            },
            "#/poured",
        ),
    ],
)
def test_bad_input_names_its_place(api: Api, database: Database, body: dict[str, Any], pointer: str) -> None:
    place = tub(database, "T1")
    with unchanged(database):
        answer = api.grower.post(f"/tubs/{place}/water-changes", body)
    assert answer.status_code == 422
    assert [error["pointer"] for error in answer.get_json()["errors"]] == [pointer]


def test_a_redose_never_lies_before_the_dose_before_it(api: Api, database: Database) -> None:
    shelf(api)
    place = tub(database, "T1")
    course(api, place, [lot(api)])
    changed(api, place, 7.2, redose=True)
    with unchanged(database):
        answer = api.grower.post(f"/tubs/{place}/water-changes", {**when(3), "redose": True})
    assert answer.get_json()["type"] == "/problems/before-its-cause"


def test_there_must_be_a_tub(api: Api) -> None:
    answer = api.grower.post("/tubs/00000000-0000-7000-8000-000000000000/water-changes", {})
    assert answer.status_code == 404


def test_a_bottle_that_is_too_small_is_said(api: Api, database: Database) -> None:
    copper(api, 0.02, copper_form="ionic", **when(0))
    place = tub(database, "T1")
    course(api, place, [lot(api)])
    with unchanged(database):
        answer = api.grower.post(f"/tubs/{place}/water-changes", {**when(3.2), "redose": True})
    assert answer.status_code == 409
    assert answer.get_json()["type"] == "/problems/insufficient-stock"


def test_the_facts_of_a_course_tell_its_doses_and_readings(api: Api, database: Database) -> None:
    shelf(api)
    place, own = tub(database, "T1"), lot(api)
    treatment = course(api, place, [own])
    measured(database, place, "copper", 0.4, 0.3)
    changed(api, place, 3.2, redose=True)
    changed(api, place, 5.2, fraction=0.3)
    with database.reading() as session:
        [fact] = treatment_facts(session, [own])[own]
    assert (fact.treatment_id, fact.method, fact.state) == (treatment, "copper_course", "running")
    # 15.8 mL are measured as 16 mL.
    assert [dose.mg_per_l for dose in fact.doses] == pytest.approx([0.4, 0.405], abs=1e-3)
    assert [value for _, value in fact.measured] == [0.4]
    assert [step.kind for step in fact.steps] == ["rinse", "soak", "rinse"]
