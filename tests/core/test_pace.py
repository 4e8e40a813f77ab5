"""A token that asks too fast is told to wait; nobody else notices."""

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.core.pace import Pace, admitted
from service.core.settings import Settings
from tests.api import Api, Client

SUPPLIER = {"name": "Brookside Aquatics", "country": "PT"}


@pytest.fixture
def slow(api: Api, settings: Settings) -> Api:
    """A house in which a token may ask 20 times a minute."""
    api.app.extensions["dipledger.settings"] = replace(settings, requests_per_minute=20)
    api.app.extensions["dipledger.pace"] = Pace()
    return api


def statuses(client: Client, times: int) -> list[int]:
    return [client.get("/suppliers").status_code for _ in range(times)]


@pytest.mark.promise(r=25)
def test_who_asks_too_often_is_told_when_to_ask_again(slow: Api) -> None:
    assert statuses(slow.grower, 20) == [200] * 20
    refused = slow.grower.get("/suppliers")
    assert (refused.status_code, refused.get_json()["type"]) == (429, "/problems/too-many-requests")
    assert 1 <= int(refused.headers["Retry-After"]) <= 3  # 60 s / 20


@pytest.mark.promise(r=25)
def test_others_are_not_made_to_wait(slow: Api) -> None:
    statuses(slow.grower, 30)
    assert statuses(slow.manager, 20) == [200] * 20


@pytest.mark.promise(r=25)
def test_what_was_refused_for_its_pace_did_nothing_and_may_be_sent_again(slow: Api) -> None:
    statuses(slow.grower, 20)
    assert slow.grower.post("/suppliers", SUPPLIER, Idempotency_Key="k").status_code == 429
    slow.app.extensions["dipledger.pace"] = Pace()  # as after the wait
    again = slow.grower.post("/suppliers", SUPPLIER, Idempotency_Key="k")
    assert (again.status_code, again.headers.get("Idempotency-Replayed")) == (201, None)
    assert len(slow.manager.seen("/suppliers")["items"]) == 1


@pytest.mark.promise(r=25)
def test_a_large_calculation_counts_as_ten(slow: Api) -> None:
    answers = [slow.manager.get("/reports/reorder").status_code for _ in range(3)]
    assert answers == [200, 200, 429]


@given(
    st.lists(st.floats(0, 600, allow_nan=False), min_size=1, max_size=300),
    st.integers(10, 200),
    st.integers(1, 10),
)
def test_nobody_is_let_in_more_often_than_twice_his_minute_in_a_minute(
    asked: list[float], per_minute: int, weight: int
) -> None:
    """GCRA: a burst of one minute's worth, and the even pace beside it (ITU-T I.371, annex A)."""
    due, let_in = 0.0, []
    for now in sorted(asked):
        due, wait = admitted(due, now, per_minute, weight)
        if not wait:
            let_in.append(now)
    for start in let_in:
        assert sum(weight for now in let_in if start <= now < start + 60) <= 2 * per_minute


@given(st.integers(10, 1000))
def test_an_even_pace_is_never_refused(per_minute: int) -> None:
    due = 0.0
    for n in range(500):
        due, wait = admitted(due, n * 60 / per_minute, per_minute, 1)
        assert wait == 0


def test_whoever_waited_as_told_is_let_in() -> None:
    due = 0.0
    for _ in range(10):
        due, _ = admitted(due, 0.0, 10, 1)
    same, wait = admitted(due, 0.0, 10, 1)
    assert same == due
    assert wait == pytest.approx(6)
    assert admitted(due, wait, 10, 1)[1] == 0
