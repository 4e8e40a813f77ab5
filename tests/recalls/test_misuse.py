"""What recalls and complaints answer when they are asked for what is odd, late, doubled or at once."""

import threading
from collections import Counter
from typing import Any

import pytest
from sqlalchemy.orm import Session
from werkzeug.test import TestResponse

from service.core.db import Database
from service.recalls import actions
from tests.api import Api, Client
from tests.journeys.bench import Bench
from tests.make_lots import line, received_lot, received_lots, tub
from tests.make_recalls import WHY, recall, sell
from tests.unchanged import unchanged

ADULT = {"pest": "bladder_snail", "stage": "adult", "live": 1, "dead": 0, "removed": True}
ONE_SNAIL = {"what": "one snail", "pest": "bladder_snail", "photo": True}


def at_once(*calls: tuple[Client, str, Any]) -> list[TestResponse]:
    """The answers to POSTs sent at one moment."""
    start, answers = threading.Barrier(len(calls)), dict[int, TestResponse]()

    def send(n: int, client: Client, path: str, body: Any) -> None:
        start.wait()
        answers[n] = client.post(path, body)

    threads = [threading.Thread(target=send, args=(n, *call)) for n, call in enumerate(calls)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return [answers[n] for n in range(len(calls))]


def causes(api: Api, lot: str) -> list[str]:
    return [hold["cause"] for hold in api.grower.seen(f"/lots/{lot}")["holds"]]


def test_two_recalls_over_the_same_lots_at_once_both_stop_all_of_them(api: Api, database: Database) -> None:
    place = tub(database, "T1")
    one, other = (
        lot["id"] for lot in received_lots(api, *[line(api, tub_id=place)] * 2, hours=2, share_water=True)
    )
    answers = at_once(
        *((api.manager, "/recalls", {"lot_id": lot, "reason": WHY}) for lot in (one, other)),
    )
    assert [answer.status_code for answer in answers] == [201, 201]
    for answer in answers:
        assert {item["lot_id"] for item in answer.get_json()["lots"]} == {one, other}
    assert causes(api, one) == causes(api, other) == ["recall", "recall"]


def test_closing_one_of_two_recalls_leaves_the_lot_stopped_by_the_other(api: Api, database: Database) -> None:
    place = tub(database, "T1")
    one, other = (
        lot["id"] for lot in received_lots(api, *[line(api, tub_id=place)] * 2, hours=2, share_water=True)
    )
    first, _ = recall(api, lot_id=one), recall(api, lot_id=other)
    for lot in (one, other):
        api.grower.made("/inspections", {"lot_id": lot, "sample_size": 40, "findings": []})
    api.manager.made(f"/recalls/{first['id']}/closing", {"conclusion": "nothing"})
    assert causes(api, one) == causes(api, other) == ["recall"]


@pytest.mark.promise(r=7)
def test_the_same_recall_twice_at_once_is_started_once(api: Api) -> None:
    lot = received_lot(api, hours=2)["id"]
    answers = at_once(*[(api.manager, "/recalls", {"lot_id": lot, "reason": WHY})] * 2)
    assert Counter(answer.status_code for answer in answers) == {201: 1, 409: 1}
    [refused] = [answer.get_json() for answer in answers if answer.status_code == 409]
    assert refused["type"].endswith("recall-open")
    assert causes(api, lot) == ["recall"]


def test_a_recall_sent_again_under_its_key_is_the_one_recall(api: Api) -> None:
    lot = received_lot(api, hours=2)["id"]
    body = {"lot_id": lot, "reason": WHY}
    first, again = (api.manager.post("/recalls", body, Idempotency_Key="r-1") for _ in range(2))
    assert first.get_json() == again.get_json()
    assert again.headers["Idempotency-Replayed"] == "true"
    assert causes(api, lot) == ["recall"]


def test_a_rejected_lot_is_recalled_for_its_reach_though_nothing_is_left_to_hold(
    api: Api, database: Database
) -> None:
    place = tub(database, "T1")
    gone, neighbour = (
        lot["id"] for lot in received_lots(api, *[line(api, tub_id=place)] * 2, hours=2, share_water=True)
    )
    rejection = {"quantity": 40, "way": "destroyed", "reason": "melted"}
    api.manager.made(f"/lots/{gone}/rejection", rejection)
    found = recall(api, lot_id=gone)
    stopped = {item["lot_id"]: item for item in found["lots"]}
    assert (stopped[gone]["ended"], stopped[gone]["hold_id"]) == (True, None)
    assert causes(api, neighbour) == ["recall"]
    assert found["progress"]["looks_owed"] == 1


def test_a_recall_that_fails_half_way_stops_nothing(
    api: Api, database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    place = tub(database, "T1")
    lot = received_lots(api, *[line(api, tub_id=place)] * 3, hours=2, share_water=True)[0]["id"]
    whole, stopped = actions._stop, list[str]()  # the seam at which it breaks

    def breaks(session: Session, *rest: Any) -> None:
        whole(session, *rest)
        stopped.append("one")
        if len(stopped) == 2:
            raise RuntimeError("the disk is full")

    monkeypatch.setattr(actions, "_stop", breaks)
    with unchanged(database):
        assert api.manager.post("/recalls", {"lot_id": lot, "reason": WHY}).status_code == 500
    assert len(stopped) == 2


def test_a_look_at_a_lot_sold_out_has_nothing_to_look_at(
    bench: Bench, database: Database, cleared: str
) -> None:
    sell(bench, cleared, 20, "customer 17")
    body = {"lot_id": cleared, "sample_size": 1, "findings": [ADULT]}
    with unchanged(database):
        answer = bench.api.grower.post("/inspections", body)
    assert answer.status_code == 422
    assert answer.get_json()["errors"][0]["pointer"] == "#/sample_size"


def test_a_find_entered_late_on_a_lot_sold_out_since_revokes_and_names_its_customers(
    bench: Bench, cleared: str
) -> None:
    serial = bench.see(cleared)["certificate_serial"]
    sell(bench, cleared, 20, "customer 17")
    look = bench.look(49.5, lot_id=cleared, sample_size=20, findings=[ADULT])
    assert bench.api.grower.seen(f"/certificates/{serial}")["status"] == "revoked"
    found = recall(bench.api, inspection_id=look["id"])
    assert [who["customer_ref"] for who in found["customers"]] == ["customer 17"]
    assert found["progress"]["customers_to_tell"] == 1


def test_a_revoked_certificate_may_still_be_complained_of(bench: Bench, cleared: str) -> None:
    serial = bench.see(cleared)["certificate_serial"]
    sell(bench, cleared, 6, "customer 17")
    recall(bench.api, lot_id=cleared)
    found = bench.api.seller.made("/complaints", {**ONE_SNAIL, "certificate_serial": serial})
    assert [item["lot_id"] for item in found["lots"]] == [cleared]
    assert sorted(causes(bench.api, cleared)) == ["complaint", "recall"]


def test_a_complaint_entered_twice_is_asked_to_be_confirmed(
    bench: Bench, database: Database, cleared: str
) -> None:
    sent = sell(bench, cleared, 6, "customer 17")
    body = {**ONE_SNAIL, "dispatch_id": sent}
    first = bench.api.seller.made("/complaints", body)
    with unchanged(database):
        refused = bench.api.seller.post("/complaints", body)
    assert refused.status_code == 409
    told = refused.get_json()
    assert (told["type"].rsplit(":", 1)[-1].rsplit("/", 1)[-1], told["allowed"]) == (
        "complaint-known",
        ["confirm_duplicate"],
    )
    assert first["id"] in told["detail"]
    bench.api.seller.made("/complaints", {**body, "pest": "hydra"})
    bench.api.seller.made("/complaints", {**body, "confirm_duplicate": True})
    assert causes(bench.api, cleared) == ["complaint"] * 3
    bench.api.grower.made("/inspections", {"lot_id": cleared, "sample_size": 14, "findings": []})
    verdict = {"verdict": "not_ours", "reason": "another species"}
    bench.api.manager.made(f"/complaints/{first['id']}/verdict", verdict)
    assert causes(bench.api, cleared) == ["complaint"] * 2


def test_the_same_complaint_twice_at_once_is_taken_once(bench: Bench, cleared: str) -> None:
    sent = sell(bench, cleared, 6, "customer 17")
    answers = at_once(*[(bench.api.seller, "/complaints", {**ONE_SNAIL, "dispatch_id": sent})] * 2)
    assert Counter(answer.status_code for answer in answers) == {201: 1, 409: 1}
    assert causes(bench.api, cleared) == ["complaint"]
