"""The lots of a trial: held from sale, kept to their arm's protocol and to their water."""

from typing import Any

import pytest

from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_trials import ALUM, CONTROL, Trying, snails


@pytest.fixture
def trying(api: Api) -> Trying:
    return Trying(Bench(api))


def test_the_hold_of_a_trial_is_lifted_by_closing_it_alone(trying: Trying) -> None:
    trying.lay_out([ALUM, CONTROL])
    unit = trying.trial["units"][0]
    lot = trying.bench.see(unit["lot_id"])
    path = f"/lots/{lot['id']}/holds/{lot['holds'][0]['id']}?reason=by+mistake"
    manager = trying.bench.api.manager
    tag = manager.get(f"/lots/{lot['id']}").headers["ETag"]
    refused = manager.send("DELETE", path, headers={"If_Match": tag})
    assert (refused.status_code, refused.get_json()["type"].split("/")[-1]) == (409, "trial-open")
    assert manager.post(f"/lots/{lot['id']}/splits", {"quantity": 1}).status_code == 409
    manager.made(f"{trying.path}/close", {"conclusion": "stopped early", **trying.bench.when(3)})
    assert trying.bench.see(unit["lot_id"])["holds"] == []
    again = manager.post(f"{trying.path}/close", {"conclusion": "again"})
    assert (again.status_code, again.get_json()["type"].split("/")[-1]) == (409, "trial-closed")


def test_an_arm_gets_its_own_protocol_and_the_control_none(trying: Trying) -> None:
    trying.bench.batch("potassium-alum", 5000, "g")
    trying.lay_out([ALUM, CONTROL])
    [control], [alum] = trying.tubs_of("control"), trying.tubs_of("alum")

    def asked(protocol: str, tub: Any, lots: list[str], **more: Any) -> Any:
        body = {"protocol": protocol, "version": 1, "tub_id": tub["tub_id"], "lot_ids": lots, **more}
        return trying.bench.api.grower.post("/treatments", {**body, **trying.bench.when(1.1)})

    wrong = asked("alum-soak", control, trying.lots_in(control["label"]))
    assert (wrong.status_code, wrong.get_json()["reasons"][0]["code"]) == (409, "not-this-arm")
    assert asked("quarantine-only", alum, trying.lots_in(alum["label"])).status_code == 409
    stranger = trying.bench.lot("anubias-barteri", 5)["id"]
    mixed = asked("alum-soak", alum, [*trying.lots_in(alum["label"]), stranger], share_water=True)
    assert (mixed.status_code, mixed.get_json()["reasons"][0]["code"]) == (409, "trial-water")
    assert asked("quarantine-only", control, trying.lots_in(control["label"])).status_code == 201
    assert asked("alum-soak", alum, trying.lots_in(alum["label"])).status_code == 201


def test_no_other_lot_comes_into_the_water_of_a_trial(trying: Trying) -> None:
    trying.lay_out([ALUM, CONTROL])
    stranger = trying.bench.lot("anubias-barteri", 5)["id"]
    tub = trying.trial["tubs"][0]["tub_id"]
    body = {"tub_id": tub, "share_water": True, **trying.bench.when(1.2)}
    answer = trying.bench.api.grower.post(f"/lots/{stranger}/moves", body)
    assert (answer.status_code, answer.get_json()["type"].split("/")[-1]) == (409, "trial-water")


def test_a_hold_that_only_calls_itself_a_trial_stops_treatments(trying: Trying) -> None:
    trying.bench.batch("potassium-alum", 5000, "g")
    lot = trying.bench.lot("anubias-barteri", 5)["id"]
    trying.bench.api.grower.made(f"/lots/{lot}/holds", {"cause": "trial", "reason": "by hand"})
    body = {"protocol": "alum-soak", "version": 1, "tub_id": trying.bench.tub("T"), "lot_ids": [lot]}
    answer = trying.bench.api.grower.post("/treatments", body)
    assert (answer.status_code, answer.get_json()["reasons"][0]["code"]) == (409, "open-hold")


def test_a_lot_of_a_trial_cannot_be_cleared_while_it_is_open(trying: Trying) -> None:
    trying.lay_out([ALUM, CONTROL])
    [control] = trying.tubs_of("control")
    [lot] = trying.lots_in(control["label"])
    trying.bench.treat("quarantine-only", control["tub_id"], [lot], 1.1, [1])
    trying.look(0, counts=[snails(control["label"], 0)])
    assert trying.bench.gates(lot)["no_hold"]["ok"] is False
    assert trying.bench.clear(lot).status_code == 409
    shut = [gate for gate, found in trying.bench.gates(lot).items() if not found["ok"]]
    body = {"overrides": [{"gate": gate, "reason": "It looks fine."} for gate in shut]}
    owner = trying.bench.api.owner
    tag = owner.get(f"/lots/{lot}").headers["ETag"]
    refused = owner.post(f"/lots/{lot}/clearance", body, If_Match=tag)
    assert (refused.status_code, refused.get_json()["type"].split("/")[-1]) == (409, "trial-open")
    assert trying.bench.see(lot)["state"] == "in_quarantine"
