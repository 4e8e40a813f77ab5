"""What stands against the steps of a treatment and its end; every refusal leaves the database as it was."""

from typing import Any

from service.core.db import Database
from tests.api import Api
from tests.make_lots import tub
from tests.make_treatments import NOWHERE, carried_out, finished, lot, planned, shelf, started, washed, when
from tests.unchanged import unchanged


def test_steps_go_in_order_and_only_once(api: Api, database: Database) -> None:
    shelf(api)
    treatment = planned(api, "alum-soak", tub(database, "T1"), [lot(api)])

    def says(address: str, code: str, status: int = 409, **body: Any) -> None:
        with unchanged(database):
            answer = api.grower.post(f"/treatments/{treatment}/{address}", {**when(0.3), **body})
        assert (answer.status_code, answer.get_json()["type"]) == (status, f"/problems/{code}")

    says("steps/2/start", "step-order")
    says("steps/1/finish", "step-not-running")
    says("steps/9/start", "not-found", 404)
    says("finish", "step-open")
    started(api, treatment, 1, 0.1)
    says("steps/1/start", "step-started")
    says("steps/2/start", "step-order")
    says("steps/1/finish", "before-its-cause", 422, **when(0.05))
    finished(api, treatment, 1, 0.11)
    says("steps/2/start", "before-its-cause", 422, **when(0.105))
    says("abandon", "before-its-cause", 422, reason="no", **when(0.105))
    api.grower.made(f"/treatments/{treatment}/abandon", {**when(0.2), "reason": "no"})
    for address in ("steps/2/start", "steps/1/finish", "finish"):
        says(address, "treatment-over")
    says("abandon", "treatment-over", reason="again")


def test_a_stale_version_of_a_treatment_is_refused(api: Api, database: Database) -> None:
    shelf(api)
    treatment = planned(api, "alum-soak", tub(database, "T1"), [lot(api)])
    tag = api.grower.get(f"/treatments/{treatment}").headers["ETag"]
    started(api, treatment, 1, 0.1)
    with unchanged(database):
        answer = api.grower.post(f"/treatments/{treatment}/steps/1/finish", when(0.2), If_Match=tag)
    assert answer.status_code == 412


def test_what_was_poured_must_be_a_batch_of_the_material(api: Api, database: Database) -> None:
    batches = shelf(api)
    treatment = planned(api, "alum-soak", tub(database, "T1"), [lot(api)])
    alum, bleach = batches["potassium-alum"]["id"], batches["bleach"]["id"]

    def says(n: int, batch: str, value: float, unit: str, expected: tuple[int, str]) -> None:
        line = {"batch_id": batch, "amount": {"value": value, "unit": unit}}
        with unchanged(database):
            address = f"/treatments/{treatment}/steps/{n}/start"
            answer = api.grower.post(address, {**when(0.3), "poured": [line]})
        found = answer.get_json()
        where = found["errors"][0]["pointer"] if answer.status_code == 422 else found["type"]
        assert (answer.status_code, where) == expected

    says(1, alum, 140, "g", (422, "#/poured/0"))
    washed(api, treatment)
    says(2, bleach, 140, "mL", (422, "#/poured/0/batch_id"))
    says(2, NOWHERE, 140, "g", (422, "#/poured/0/batch_id"))
    says(2, alum, 140, "mL", (422, "#/poured/0/amount"))
    says(2, alum, 0, "g", (422, "#/poured/0/amount/value"))
    says(2, alum, 140, "handful", (422, "#/poured/0/amount/unit"))
    says(2, alum, 490, "g", (409, "/problems/over-cap"))


def test_drops_need_the_drop_of_the_bottle(api: Api, database: Database) -> None:
    batches = shelf(api)
    treatment = planned(api, "copper-course", tub(database, "T1"), [lot(api)])
    ended = washed(api, treatment)
    line = {"batch_id": batches["copper-stock"]["id"], "amount": {"value": 300, "unit": "[drp]"}}
    answer = api.grower.post(f"/treatments/{treatment}/steps/2/start", {**when(ended), "poured": [line]})
    assert answer.status_code == 422
    assert answer.get_json()["type"] == "/problems/uncalibrated-drop"


def test_stock_that_went_meanwhile(api: Api, database: Database) -> None:
    batches = shelf(api)
    treatment = planned(api, "alum-soak", tub(database, "T1"), [lot(api)])
    ended = washed(api, treatment)
    gone = {"quantity": {"value": 1900, "unit": "g"}, "way": "hazardous_waste", "reason": "wet"}
    api.manager.made("/stock-disposals", {"batch_id": batches["potassium-alum"]["id"], **gone})
    with unchanged(database):
        answer = api.grower.post(f"/treatments/{treatment}/steps/2/start", when(ended))
    assert answer.status_code == 409
    assert answer.get_json()["type"] == "/problems/insufficient-stock"


def test_the_tub_to_move_to_must_be_there_and_free(api: Api, database: Database) -> None:
    shelf(api)
    other = tub(database, "T2")
    carried_out(api, "quarantine-only", other, [lot(api)])
    treatment = planned(api, "quarantine-only", tub(database, "T1"), [lot(api)])
    started(api, treatment, 1, 0.2)
    finished(api, treatment, 1, 0.3)
    for place, status, code in ((NOWHERE, 422, "unknown-tub"), (other, 409, "water-shared")):
        with unchanged(database):
            answer = api.grower.post(f"/treatments/{treatment}/finish", {**when(0.4), "to_tub_id": place})
        assert (answer.status_code, answer.get_json()["type"]) == (status, f"/problems/{code}")
