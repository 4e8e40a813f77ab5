"""Who decides: two people under a four-eyes policy, and owners who override what is shut."""

import threading
from typing import Any

import orjson
import pytest
from joserfc import jws
from werkzeug.test import TestResponse

from service.core.db import Database
from tests.journeys.bench import Bench
from tests.make_clearance import decide, ready
from tests.make_quarantine import quarantined
from tests.unchanged import unchanged

STRICT = {"policy": "strict"}
COLD_LOG = {"overrides": [{"gate": "temperature_log", "reason": "the logger drowned; the room is heated"}]}
REGULATED = {"pest": "apple_snail", "stage": "adult", "live": 1, "dead": 0, "removed": True}


def logged(bench: Bench) -> str:
    """A lot that only waits for the decision."""
    tub = bench.tub("Q1")
    bench.logger(tub, 0, bench.age, 24)
    return ready(bench, tub)


def gappy(bench: Bench) -> str:
    """A lot whose log has a hole of a week; all else is in order."""
    tub = bench.tub("Q1")
    bench.logger(tub, 0, 15, 26)
    bench.logger(tub, 19, bench.age, 26)
    return ready(bench, tub)


def said(certificate: Any) -> Any:
    return orjson.loads(jws.extract_compact(certificate["jws"].encode()).payload)


def codes(answer: Any) -> list[str]:
    return [reason["code"] for reason in answer.get_json()["reasons"]]


def test_under_four_eyes_one_proposes_and_another_confirms(bench: Bench) -> None:
    lot = logged(bench)
    first = decide(bench, lot, STRICT)
    assert first.status_code == 202
    proposal = first.get_json()["proposal"]
    assert (proposal["policy"], first.get_json()["lot"]["state"]) == ("strict", "in_quarantine")
    same = decide(bench, lot, STRICT)
    assert (same.status_code, codes(same)) == (409, ["second-person-needed"])
    second = decide(bench, lot, STRICT, role="owner")
    assert second.status_code == 201
    history = bench.api.auditor.seen(f"/lots/{lot}/history?limit=200")["items"]
    [decided] = [item for item in history if item["kind"] == "clearance.decided"]
    assert decided["after"]["proposed_by"] == proposal["proposed_by"] != decided["by"]


def test_who_confirms_must_be_allowed_to_decide_and_have_seen_the_proposal(bench: Bench) -> None:
    lot = logged(bench)
    before = bench.api.owner.get(f"/lots/{lot}").headers["ETag"]
    assert decide(bench, lot, STRICT).status_code == 202
    assert decide(bench, lot, STRICT, role="grower").status_code == 403
    stale = bench.api.owner.post(f"/lots/{lot}/clearance", STRICT, If_Match=before)
    assert stale.status_code == 412
    assert bench.see(lot)["state"] == "in_quarantine"


def test_every_gate_is_judged_again_when_the_second_confirms(bench: Bench) -> None:
    lot = logged(bench)
    assert decide(bench, lot, STRICT).status_code == 202
    bench.api.seller.made(f"/lots/{lot}/holds", {"cause": "doubt", "reason": "a leaf looks odd"})
    refused = decide(bench, lot, STRICT, role="owner")
    assert (refused.status_code, codes(refused)) == (409, ["no_hold"])


def test_a_proposal_holds_for_its_policy_and_its_quarantine_only(bench: Bench) -> None:
    lot = logged(bench)
    assert decide(bench, lot, STRICT).status_code == 202
    assert decide(bench, lot).status_code == 201  # the standard policy asks for one person
    bench.api.grower.made(f"/lots/{lot}/moves", {"to": "in_quarantine", "reason": "a doubt"})
    assert decide(bench, lot, STRICT, role="owner").status_code == 202  # what was proposed before is over


def test_an_owner_overrides_a_gate_with_a_reason_that_the_statement_prints(bench: Bench) -> None:
    lot = gappy(bench)
    assert codes(decide(bench, lot)) == ["temperature_log"]
    needless = {"gate": "no_hold", "reason": "just in case"}
    overrides = [*COLD_LOG["overrides"], needless]
    cleared = decide(bench, lot, {"overrides": overrides}, role="owner")
    assert cleared.status_code == 201
    claims = said(cleared.get_json()["certificate"])
    [override] = claims["overrides"]
    assert (override["gate"], override["reason"]) == ("temperature_log", COLD_LOG["overrides"][0]["reason"])
    assert "longest gap" in override["have"]
    sentence = next(text for text in claims["statement"] if text.startswith("The owner cleared this lot"))
    assert "the logger drowned" in sentence
    page = bench.api.nobody.get(f"/c/{claims['jti']}").get_data(as_text=True)
    assert "the logger drowned" in page
    part = bench.api.grower.made(f"/lots/{lot}/splits", {"quantity": 6})["id"]
    [part_certificate] = bench.api.auditor.seen(f"/lots/{part}/certificates")["items"]
    assert said(part_certificate)["overrides"] == claims["overrides"]


def test_a_statement_without_overrides_says_so(bench: Bench) -> None:
    claims = said(decide(bench, logged(bench)).get_json()["certificate"])
    assert claims["overrides"] == []
    assert not any(text.startswith("The owner cleared") for text in claims["statement"])


def test_only_an_owner_overrides(bench: Bench, database: Database) -> None:
    lot = gappy(bench)
    with unchanged(database):
        assert decide(bench, lot, COLD_LOG).status_code == 403


@pytest.mark.parametrize("gate", ["no_regulated_pest", "quantity_left", "the_weather"])
def test_what_is_no_gate_or_may_never_be_overridden_is_named(
    bench: Bench, database: Database, gate: str
) -> None:
    lot = quarantined(bench, bench.tub("Q1"))
    with unchanged(database):
        answer = decide(bench, lot, {"overrides": [{"gate": gate, "reason": "x"}]}, role="owner")
    assert answer.status_code == 422
    assert answer.get_json()["errors"][0]["pointer"] == "#/overrides/0/gate"


def test_a_regulated_pest_locks_whatever_an_owner_says(bench: Bench) -> None:
    lot = logged(bench)
    bench.look(bench.age, lot_id=lot, sample_size=20, findings=[REGULATED])
    shut = [code for code, gate in bench.gates(lot).items() if not gate["ok"] and code != "no_regulated_pest"]
    overrides = [{"gate": code, "reason": "I know better"} for code in shut]
    refused = decide(bench, lot, {"overrides": overrides}, role="owner")
    assert (refused.status_code, codes(refused)) == (409, ["no_regulated_pest"])


def test_a_second_person_confirms_an_override_too(bench: Bench) -> None:
    lot = gappy(bench)
    first = decide(bench, lot, {**STRICT, **COLD_LOG}, role="owner")
    assert first.status_code == 202
    assert first.get_json()["proposal"]["overrides"] == COLD_LOG["overrides"]
    second = decide(bench, lot, STRICT)
    assert second.status_code == 201
    assert [found["gate"] for found in said(second.get_json()["certificate"])["overrides"]] == [
        "temperature_log"
    ]


def test_without_the_looks_a_lot_is_good_for_two_weeks_from_the_decision(bench: Bench) -> None:
    tub = bench.tub("Q1")
    bench.logger(tub, 0, bench.age, 24)
    lot = quarantined(bench, tub)
    bench.strain(tub, 3, 45)
    bench.look(7, tub_id=tub, method="bait")
    shut = [code for code, gate in bench.gates(lot).items() if not gate["ok"]]
    assert "clean_inspections" in shut
    overrides = [{"gate": code, "reason": "looked at by a colleague"} for code in shut]
    body = {**bench.when(49.9), "overrides": overrides}
    assert decide(bench, lot, body, role="owner").status_code == 201
    assert bench.see(lot)["good_until"] == bench.when(63.9)["at"]


@pytest.mark.promise(r=7)
def test_two_who_decide_at_once_make_one_decision(bench: Bench) -> None:
    lot = logged(bench)
    tag = bench.api.manager.get(f"/lots/{lot}").headers["ETag"]
    start = threading.Barrier(2)
    answers: list[TestResponse] = []

    def act(role: str) -> None:
        start.wait()
        answer = getattr(bench.api, role).post(f"/lots/{lot}/clearance", {}, If_Match=tag)
        while answer.status_code == 503:  # the other holds the lot still: the same is sent again
            answer = getattr(bench.api, role).post(f"/lots/{lot}/clearance", {}, If_Match=tag)
        answers.append(answer)

    threads = [threading.Thread(target=act, args=(role,)) for role in ("manager", "owner")]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert sorted(answer.status_code for answer in answers) in ([201, 409], [201, 412])
    certificates = bench.api.auditor.seen(f"/lots/{lot}/certificates")["items"]
    assert [found["status"] for found in certificates] == ["valid"]


@pytest.mark.promise(r=7)
def test_a_decision_that_was_made_is_not_made_again(bench: Bench) -> None:
    lot = logged(bench)
    assert decide(bench, lot).status_code == 201
    again = decide(bench, lot)
    assert again.status_code == 409
    assert again.get_json()["current_state"] == "cleared"
