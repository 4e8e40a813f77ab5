"""A bad batch names the treatments and the lots it was used in."""

from typing import Any

from service.core.db import Database
from tests.api import Api
from tests.make_lots import tub
from tests.make_stores import copper
from tests.make_treatments import NOWHERE, changed, course, day, lot, planned, shelf, started, washed, when


def blocked(api: Api, batch: dict[str, Any]) -> Any:
    path = f"/stock-batches/{batch['id']}"
    tag = api.grower.get(path).headers["ETag"]
    body = {"blocked": True, "block_reason": "recalled by its maker"}
    answer = api.grower.send("PATCH", path, body, headers={"If-Match": tag})
    assert answer.status_code == 200, answer.get_json()
    return answer.get_json()


def uses(api: Api, batch: dict[str, Any]) -> Any:
    return api.grower.seen(f"/stock-batches/{batch['id']}/uses")


def test_blocking_a_batch_names_the_treatments_it_was_used_in(api: Api, database: Database) -> None:
    batches = shelf(api)
    first = course(api, tub(database, "T1"), [lot(api)])
    second = course(api, tub(database, "T2"), [lot(api)], 1)
    soaked = planned(api, "alum-soak", tub(database, "T3"), [lot(api)])
    started(api, soaked, 2, washed(api, soaked))
    answer = blocked(api, batches["copper-stock"])
    assert [use["treatment_id"] for use in answer["used_in"]] == [first, second]
    # 0.4 mg/L in 40 L is 16 mg of copper: 16 mL of a stock of 1 g/L.
    assert [use["amount"] for use in answer["used_in"]] == [{"value": "16", "unit": "mL"}] * 2
    assert api.grower.seen(f"/stock-batches/{batches['copper-stock']['id']}")["used_in"] == answer["used_in"]
    assert blocked(api, batches["bleach"])["used_in"] == []


def test_the_lots_a_batch_was_used_on_are_named_with_their_parts(api: Api, database: Database) -> None:
    batches = shelf(api)
    whole, other, untouched = lot(api), lot(api), lot(api)
    early = api.grower.made(f"/lots/{whole}/splits", {"quantity": 2, **when(0.05)})["id"]
    treatment = course(api, tub(database, "T1"), [whole, other])
    changed(api, api.grower.seen(f"/treatments/{treatment}")["tub_id"], 4, redose=True)
    api.grower.made(f"/treatments/{treatment}/abandon", {"reason": "the copper is bad", **when(4.5)})
    late = api.grower.made(f"/lots/{whole}/splits", {"quantity": 3, **when(5)})["id"]
    latest = api.grower.made(f"/lots/{late}/splits", {"quantity": 1, **when(6)})["id"]
    shown = uses(api, blocked(api, batches["copper-stock"]))
    assert (shown["blocked"], shown["block_reason"]) == (True, "recalled by its maker")
    [use] = shown["treatments"]
    assert (use["treatment_id"], use["protocol"], use["state"]) == (treatment, "copper-course", "abandoned")
    assert (use["first_at"], use["last_at"]) == (moment(washed_at()), moment(4))
    named = {each["id"]: (each["state"], each["split_from"]) for each in use["lots"]}
    waiting = "in_quarantine"
    assert named == {
        whole: (waiting, None),
        other: (waiting, None),
        late: (waiting, whole),
        latest: (waiting, late),
    }
    assert not named.keys() & {early, untouched}


def moment(days: float) -> str:
    return day(days).isoformat().replace("+00:00", "Z")


def washed_at() -> float:
    return 0.1 + 5 / 1440


def test_lots_dipped_into_a_bath_are_lots_that_its_bottle_was_used_on(api: Api, database: Database) -> None:
    bottle = shelf(api)["bleach"]
    body = {"protocol": "bleach-dip", "version": 1, "step": 2, "volume": {"value": 10, "unit": "L"}}
    bath = api.grower.made("/baths", {**body, **when(0.1)})["id"]
    dipped = {}
    for code in ("T1", "T2"):
        own = lot(api)
        treatment = planned(api, "bleach-dip", tub(database, code), [own])
        started(api, treatment, 2, washed(api, treatment), bath_id=bath)
        dipped[treatment] = own
    [used_in] = blocked(api, bottle)["used_in"]
    assert (used_in["treatment_id"], used_in["bath_id"]) == (None, bath)
    shown = uses(api, bottle)["treatments"]
    assert {use["treatment_id"]: [each["id"] for each in use["lots"]] for use in shown} == {
        treatment: [own] for treatment, own in dipped.items()
    }
    assert {use["bath_id"] for use in shown} == {bath}
    assert [use["amount"] for use in shown] == [used_in["amount"]] * 2


def test_a_draw_that_was_taken_back_is_no_use(api: Api, database: Database) -> None:
    batch = copper(api, copper_form="ionic", **when(0))
    treatment = course(api, tub(database, "T1"), [lot(api)])
    assert [use["treatment_id"] for use in uses(api, batch)["treatments"]] == [treatment]
    [_, drawn] = api.grower.seen(f"/stock-entries?batch={batch['id']}")["items"]
    api.manager.made(f"/stock-entries/{drawn['id']}/reversal", {"reason": "another bottle was poured"})
    assert uses(api, batch)["treatments"] == []


def test_a_batch_that_is_not_there_is_not_found(api: Api) -> None:
    assert api.grower.get(f"/stock-batches/{NOWHERE}/uses").status_code == 404
