"""A protocol carried out on lots in a tub, over HTTP."""

from typing import Any

from service.core.db import Database
from tests.api import Api
from tests.make_lots import tub
from tests.make_treatments import asked, carried_out, finished, lot, planned, shelf, started, washed, when


def state(api: Api, lot_id: str) -> str:
    return str(api.grower.seen(f"/lots/{lot_id}")["state"])


def test_planning_books_nothing_and_puts_the_lots_into_the_tub(api: Api, database: Database) -> None:
    shelf(api)
    place, own = tub(database, "T1"), lot(api)
    before = len(api.grower.seen("/stock-entries")["items"])
    made = api.grower.made("/treatments", asked("alum-soak", place, [own]))
    assert made["state"] == "planned"
    assert made["lot_ids"] == [own]
    assert made["water_volume"] == {"value": 40, "unit": "L"}
    assert [step["state"] for step in made["steps"]] == ["open"] * 4
    assert [step["kind"] for step in made["steps"]] == ["rinse", "soak", "rinse", "rinse"]
    assert len(api.grower.seen("/stock-entries")["items"]) == before
    shown = api.grower.seen(f"/lots/{own}")
    assert (shown["state"], shown["tub_id"]) == ("in_treatment", place)
    assert api.grower.seen(f"/treatments/{made['id']}") == made


def test_a_whole_soak_ends_in_quarantine(api: Api, database: Database) -> None:
    shelf(api)
    place, own = tub(database, "T1"), lot(api)
    treatment = carried_out(api, "alum-soak", place, [own])
    shown = api.grower.seen(f"/treatments/{treatment}")
    assert shown["state"] == "finished"
    assert {step["state"] for step in shown["steps"]} == {"done"}
    lot_now = api.grower.seen(f"/lots/{own}")
    assert (lot_now["state"], lot_now["tub_id"]) == ("in_quarantine", place)
    kinds = [item["kind"] for item in api.auditor.seen(f"/lots/{own}/history?limit=200")["items"]]
    assert kinds[0] == "lot.received"
    assert kinds[-1] == "treatment.finished"
    assert kinds.count("treatment.step_started") == kinds.count("treatment.step_finished") == 4
    assert "stock.drawn" in kinds


def test_the_lots_of_one_treatment_move_on_together(api: Api, database: Database) -> None:
    shelf(api)
    place, clean = tub(database, "T1"), tub(database, "Q1")
    lots = [lot(api), lot(api)]
    treatment = planned(api, "quarantine-only", place, lots)
    started(api, treatment, 1, 0.2)
    finished(api, treatment, 1, 0.3)
    api.grower.made(f"/treatments/{treatment}/finish", {**when(0.4), "to_tub_id": clean})
    assert [api.grower.seen(f"/lots/{one}")["tub_id"] for one in lots] == [clean, clean]


def test_abandoned_before_any_step_the_lots_go_back_to_where_they_were(api: Api, database: Database) -> None:
    shelf(api)
    place, fresh = tub(database, "T1"), lot(api)
    treatment = planned(api, "alum-soak", place, [fresh])
    shown = api.grower.made(f"/treatments/{treatment}/abandon", {**when(0.2), "reason": "wrong tub"})
    assert (shown["state"], shown["departure"]) == ("abandoned", "wrong tub")
    assert state(api, fresh) == "received"
    carried_out(api, "quarantine-only", place, [fresh], 0.3)
    again = planned(api, "alum-soak", place, [fresh], 1)
    api.grower.made(f"/treatments/{again}/abandon", {**when(1.1), "reason": "no time"})
    assert state(api, fresh) == "in_quarantine"


def test_abandoned_after_a_step_the_lots_are_in_quarantine_with_the_departure(
    api: Api, database: Database
) -> None:
    shelf(api)
    place, own = tub(database, "T1"), lot(api)
    treatment = planned(api, "alum-soak", place, [own])
    ended = washed(api, treatment)
    started(api, treatment, 2, ended)
    api.grower.made(f"/treatments/{treatment}/abandon", {**when(ended + 1), "reason": "leaves melt"})
    shown = api.grower.seen(f"/treatments/{treatment}")
    assert state(api, own) == "in_quarantine"
    assert [step["state"] for step in shown["steps"]] == ["done", "done", "open", "open"]
    assert shown["steps"][1]["departure"] == "leaves melt"


def test_treatments_are_listed_by_state_tub_and_lot(api: Api, database: Database) -> None:
    shelf(api)
    places, lots = [tub(database, "T1"), tub(database, "T2")], [lot(api), lot(api)]
    done = carried_out(api, "quarantine-only", places[0], [lots[0]])
    open_ = planned(api, "alum-soak", places[1], [lots[1]])

    def ids(query: str) -> list[str]:
        return [item["id"] for item in api.auditor.seen(f"/treatments?{query}")["items"]]

    assert ids("") == [done, open_]
    assert ids("state=finished") == ids(f"tub={places[0]}") == ids(f"lot={lots[0]}") == [done]
    assert ids("state=planned") == ids(f"lot={lots[1]}") == [open_]
    assert ids("state=abandoned") == []


def test_an_owner_may_override_what_a_plant_must_avoid(api: Api, database: Database) -> None:
    shelf(api)
    api.manager.made("/plants", new_plant())
    own = lot(api, plant_id=plant_id(api, "test-plant"))
    level(api, "test-plant", "bleach_dip", "avoid")
    body = asked("bleach-dip", tub(database, "T1"), [own])
    refused = api.owner.post("/treatments", body)
    assert refused.status_code == 409
    assert refused.get_json()["type"] == "/problems/plant-avoids-method"
    reason = {"override_reason": "the last three pots, and a customer waits"}
    assert api.manager.post("/treatments", {**body, **reason}).status_code == 403
    made = api.owner.made("/treatments", {**body, **reason})
    assert made["override_reason"] == reason["override_reason"]


def test_a_doubtful_method_asks_for_trial_stems_first(api: Api, database: Database) -> None:
    shelf(api)
    own = lot(api, plant_id=plant_id(api, "leptochilus-pteropus"))
    body = asked("bleach-dip", tub(database, "T1"), [own])
    refused = api.grower.post("/treatments", body)
    assert refused.status_code == 409
    assert refused.get_json()["reasons"][0]["code"] == "trial-stems-needed"
    told = {"trial_stems_reason": "the last two deliveries, all green after a month"}
    assert api.grower.post("/treatments", {**body, **told}).status_code == 409
    for wrong in ({"survived_here": 20}, {"survived_here": 4, **told}):
        assert api.grower.post("/treatments", {**body, **wrong}).status_code == 422
    made = api.grower.made("/treatments", {**body, **told, "survived_here": 20})
    # none of 20: 1 - 0.05^(1/20) = 0.139, by hand
    assert (made["survived_here"], round(made["lost_at_most"], 3)) == (20, 0.139)


def test_plants_that_nobody_judged_may_always_be_quarantined(api: Api, database: Database) -> None:
    api.manager.made("/plants", new_plant())
    own = lot(api, plant_id=plant_id(api, "test-plant"))
    planned(api, "quarantine-only", tub(database, "T1"), [own])
    assert state(api, own) == "in_treatment"


def test_after_bleach_the_way_to_alum_is_open_when_it_was_neutralised_and_rinsed(
    api: Api, database: Database
) -> None:
    shelf(api)
    place, own = tub(database, "T1"), lot(api)
    carried_out(api, "bleach-dip", place, [own])
    planned(api, "alum-soak", place, [own], 0.2)


def test_a_part_split_off_keeps_the_residue_of_the_whole(api: Api, database: Database) -> None:
    shelf(api)
    place, own = tub(database, "T1"), lot(api)
    treatment = planned(api, "bleach-dip", place, [own])
    started(api, treatment, 2, washed(api, treatment))
    api.grower.made(f"/treatments/{treatment}/abandon", {**when(0.2), "reason": "alarm"})
    split = {**when(0.3), "quantity": 5, "reason": "for the shop", "tub_id": tub(database, "T2")}
    child = api.grower.made(f"/lots/{own}/splits", split)["id"]
    body = asked("alum-soak", tub(database, "T3"), [child], 0.4)
    assert api.grower.post("/treatments", body).get_json()["type"] == "/problems/unsafe-sequence"


def new_plant() -> dict[str, Any]:
    return {
        "code": "test-plant",
        "scientific_name": "Planta testalis",
        "growth_form": "stem",
        "look_class": "broad_leaf",
    }


def plant_id(api: Api, code: str) -> str:
    return next(str(p["id"]) for p in api.grower.seen("/plants?limit=200")["items"] if p["code"] == code)


def level(api: Api, code: str, method: str, taken: str) -> None:
    address = f"/plants/{plant_id(api, code)}"
    tag = api.manager.get(address).headers["ETag"]
    body = {"level": taken, "source": "own experience"}
    answer = api.manager.send("PUT", f"{address}/tolerances/{method}", body, headers={"If-Match": tag})
    assert answer.status_code == 200
