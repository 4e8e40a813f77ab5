"""R25: one caller that runs wild does not slow the others, and nothing large is let in."""

import threading
import time
from pathlib import Path
from statistics import quantiles

import pytest

from tests.api import Api
from tests.processes.house import FAST, House, answers, free_port, get, until
from tests.soak import figure

A_MINUTE = 60
RUNNING_WILD = 10 * A_MINUTE / 60  # requests a second
ASKED = 300


@pytest.mark.promise(r=25)
@pytest.mark.soak
@pytest.mark.skipif(
    not figure(gate=0, full=1), reason="on a machine that does other tests times tell nothing"
)
def test_ten_times_the_limit_from_one_token_leaves_the_others_as_fast_as_they_were(tmp_path: Path) -> None:
    house, port = House(tmp_path / "home", **{FAST: str(A_MINUTE)}), free_port()
    house.run("init")
    wild = house.run("token", "create", "--role", "grower", "--name", "a loop without end")
    with house.started("serve", "--port", str(port)):
        until(lambda: answers(port), "the web answers")
        alone = _asked(house, port)
        found: list[int] = []
        over = threading.Event()
        flood = threading.Thread(target=_flood, args=(port, wild, over, found))
        flood.start()
        until(lambda: 429 in found, "the flood is told to wait")
        beside = _asked(house, port)
        over.set()
        flood.join()
    assert 429 in found
    assert {status for status, _ in (*alone, *beside)} == {200}
    assert _p95(beside) < 2 * _p95(alone)


def _flood(port: int, token: str, over: threading.Event, found: list[int]) -> None:
    while not over.wait(1 / RUNNING_WILD if 429 in found else 0):
        found.append(get(port, "/api/v1/suppliers", token)[0])


def _asked(house: House, port: int) -> list[tuple[int, float]]:
    """(status, seconds) of requests of others, of no token more than it may."""
    told = []
    for n in range(ASKED):
        if n % A_MINUTE == 0:
            token = house.run("token", "create", "--role", "grower", "--name", "at the bench")
        start = time.perf_counter()
        told.append((get(port, "/api/v1/suppliers", token)[0], time.perf_counter() - start))
    return told


def _p95(told: list[tuple[int, float]]) -> float:
    return quantiles([seconds for _, seconds in told], n=20)[-1]


@pytest.mark.promise(r=25)
def test_a_body_of_20_megabytes_is_refused(api: Api) -> None:
    body = b'{"name": "' + b"x" * 20_000_000 + b'", "country": "PT"}'
    assert api.grower.send("POST", "/suppliers", raw=body).status_code == 413


@pytest.mark.promise(r=25)
def test_no_page_has_10_000_rows(api: Api) -> None:
    answer = api.grower.get("/lots?limit=10000")
    assert (answer.status_code, answer.get_json()["errors"][0]["pointer"]) == (422, "#/query/limit")


@pytest.mark.promise(r=25)
def test_json_of_any_depth_ends_the_reading_early(api: Api) -> None:
    for deep in (b"[" * 100_000 + b"]" * 100_000, b'{"a":' * 100_000 + b"1" + b"}" * 100_000):
        assert api.grower.send("POST", "/suppliers", raw=deep).status_code == 400
