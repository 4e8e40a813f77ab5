"""At least once, in order of each subject, for three days; what fails is shown and can be sent again."""

import threading
import time
from datetime import timedelta

import pytest

from service.exchange import deliveries
from service.exchange.rules_retry import DELAYS, SPREAD
from service.exchange.sending import Outcome
from tests.exchange.conftest import Post
from tests.exchange.endpoints import Answer, Received
from tests.make_lots import received_lot

MINUTE, HOUR, DAY = timedelta(minutes=1), timedelta(hours=1), timedelta(days=1)
LONGEST = max(DELAYS) * (1 + SPREAD)  # however chance spreads the attempts, the next is due


def held(post: Post, lot: str) -> None:
    post.api.grower.made(f"/lots/{lot}/holds", {"cause": "look", "reason": "to be looked at"})


def test_what_fails_keeps_back_the_later_ones_of_its_subject_alone(post: Post) -> None:
    post.webhook("lot.received", "lot.held")
    first, second = received_lot(post.api)["id"], received_lot(post.api)["id"]
    post.answers[f"lots/{first}"] = (500, {}, b"")
    held(post, first)
    held(post, second)
    post.round()
    assert post.got() == [
        ("lot.received", f"lots/{first}"),
        ("lot.received", f"lots/{second}"),
        ("lot.held", f"lots/{second}"),
    ]
    post.answers.clear()
    post.round(MINUTE)
    assert post.got()[3:] == [("lot.received", f"lots/{first}"), ("lot.held", f"lots/{first}")]


def test_every_attempt_has_the_same_id_and_body_and_its_own_time(post: Post) -> None:
    post.webhook("lot.received")
    post.fallback = (500, {}, b"")
    received_lot(post.api)
    post.round()
    post.round(HOUR)
    one, two = post.shop.received
    assert (one.body, one.headers["webhook-id"]) == (two.body, two.headers["webhook-id"])
    assert int(two.headers["webhook-timestamp"]) - int(one.headers["webhook-timestamp"]) >= 3600


def test_after_three_days_it_is_parked_and_shown_and_the_later_ones_go_on(post: Post) -> None:
    made = post.webhook("lot.received", "lot.held")
    lot = received_lot(post.api)["id"]
    post.fallback = (500, {}, b"")
    held(post, lot)
    attempts = [post.round()]
    for _ in range(9):
        [delivery, _] = post.deliveries(made)
        assert delivery["state"] == "waiting"
        attempts.append(post.round(LONGEST))
    assert attempts == [1] * 9 + [2]  # with the tenth the next of its subject has its first
    post.fallback = (204, {}, b"")
    post.round(MINUTE)
    parked, later = post.deliveries(made)
    assert (parked["state"], parked["attempts"], parked["last_status"]) == ("parked", 10, 500)
    assert later["state"] == "delivered"
    assert post.deliveries(made, "&state=parked") == [parked]
    assert post.api.owner.seen(f"/webhooks/{made['id']}")["parked"] == 1
    kinds = [e["kind"] for e in post.api.owner.seen(f"/audit?subject=webhook/{made['id']}")["items"]]
    assert kinds == ["webhook.added", "webhook.delivery_parked"]


def test_what_is_parked_or_was_delivered_is_sent_again_by_hand(post: Post) -> None:
    made = post.webhook("lot.received")
    received_lot(post.api)
    post.round()
    [delivery] = post.deliveries(made)
    again = post.api.manager.made(f"/deliveries/{delivery['id']}/redelivery")
    assert (again["state"], again["attempts"]) == ("waiting", 0)
    post.round()
    assert [received.headers["webhook-id"] for received in post.shop.received] == [delivery["event_id"]] * 2
    assert post.deliveries(made)[0]["state"] == "delivered"


def test_an_endpoint_that_is_gone_gets_nothing_more(post: Post) -> None:
    made = post.webhook("lot.received")
    post.fallback = (410, {}, b"")
    received_lot(post.api)
    received_lot(post.api)
    post.round()
    assert len(post.shop.received) == 1
    assert post.round(DAY) == 0
    shown = post.api.owner.seen(f"/webhooks/{made['id']}")
    assert (shown["end_reason"], shown["waiting"], shown["parked"]) == ("gone", 0, 2)


def test_an_endpoint_that_asks_for_time_gets_it_for_all_subjects(post: Post) -> None:
    post.webhook("lot.received")
    post.fallback = (429, {"Retry-After": "600"}, b"")
    received_lot(post.api)
    received_lot(post.api)
    post.round()
    assert len(post.shop.received) == 1
    post.fallback = (204, {}, b"")
    assert post.round(9 * MINUTE) == 0
    assert post.round(2 * MINUTE) == 2


def test_an_endpoint_that_is_not_there_is_tried_again(post: Post) -> None:
    made = post.api.owner.made("/webhooks", {"name": "off", "url": "http://127.0.0.1:9/", "types": []})
    received_lot(post.api)
    assert post.round() == 1
    [delivery] = post.deliveries(made)
    assert (delivery["state"], delivery["last_status"]) == ("waiting", None)
    assert delivery["last_error"] == "No answer: ConnectionRefusedError."


def test_a_redirect_is_a_failure(post: Post) -> None:
    made = post.webhook("lot.received")
    post.fallback = (307, {"Location": f"http://127.0.0.1:{post.shop.port}/elsewhere"}, b"")
    received_lot(post.api)
    post.round()
    assert [received.path for received in post.shop.received] == ["/in"]
    assert post.deliveries(made)[0]["last_status"] == 307


def test_nobody_waits_for_the_database_while_an_event_is_under_way(post: Post) -> None:
    made = post.webhook("lot.held")
    lot = received_lot(post.api)["id"]
    written: list[str] = []

    def write(_: Received) -> Answer:
        written.append(received_lot(post.api)["id"])  # from the endpoint: would wait for ever for a lock
        return 204, {}, b""

    post.asked = write
    held(post, lot)
    assert post.round() == 1
    assert len(written) == 1
    assert post.deliveries(made)[0]["state"] == "delivered"


def test_two_postmen_never_stand_before_one_door(post: Post) -> None:
    post.webhook("lot.received")
    lots = [received_lot(post.api)["id"] for _ in range(6)]
    inside, most = [0], [0]
    lock = threading.Lock()

    def slow(_: Received) -> Answer:
        with lock:
            inside[0] += 1
            most[0] = max(most[0], inside[0])
        time.sleep(0.05)
        with lock:
            inside[0] -= 1
        return 204, {}, b""

    post.asked = slow
    start = threading.Barrier(3)

    def postman() -> None:
        start.wait()
        post.round()

    workers = [threading.Thread(target=postman) for _ in range(3)]
    for worker in workers:
        worker.start()
    for worker in workers:
        worker.join()
    assert most == [1]
    assert sorted(subject for _, subject in post.got()) == sorted(f"lots/{lot}" for lot in lots)


@pytest.mark.promise(r=10)
def test_what_a_killed_postman_carried_is_sent_when_its_lease_is_over(post: Post) -> None:
    made = post.webhook("lot.received")
    received_lot(post.api)
    with post.database.writing() as session:
        deliveries.owe_events(session, post.now())
    with post.database.writing() as session:
        assert deliveries.take_turn(session, post.now()) is not None
    assert post.round() == 0
    assert post.round(deliveries.LEASE) == 1
    assert post.deliveries(made)[0]["state"] == "delivered"


def test_an_outcome_that_comes_after_the_lease_changes_nothing(post: Post) -> None:
    made = post.webhook("lot.received")
    received_lot(post.api)
    with post.database.writing() as session:
        deliveries.owe_events(session, post.now())
        turn = deliveries.take_turn(session, post.now())
        assert turn is not None
        [parcel] = deliveries.parcels(session, turn, post.now(), 9)
    assert post.round(deliveries.LEASE) == 1
    with post.database.writing() as session:
        late = Outcome(500)
        assert not deliveries.settle(session, turn, parcel, late, post.now())
    assert post.deliveries(made)[0]["state"] == "delivered"


def test_what_was_delivered_is_forgotten_after_a_month(post: Post) -> None:
    made = post.webhook("lot.received")
    received_lot(post.api)
    post.round()
    for days, left in ((29, 1), (31, 0)):
        with post.database.writing() as session:
            deliveries.forget_delivered(session, {}, post.now() + timedelta(days=days))
        assert len(post.deliveries(made)) == left
