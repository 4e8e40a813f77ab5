"""R8: as many as write at once on SQLite, none is told that the database is locked."""

import http.client
import time
from collections import Counter
from collections.abc import Callable
from functools import partial
from pathlib import Path
from statistics import quantiles

import orjson
import pytest
from flask import Flask

from service.core.settings import Settings
from tests.api import Api, Contract
from tests.processes.house import House, answers, free_port, get, until
from tests.promises.naive import at_once, naive_house
from tests.soak import figure

WRITERS, EACH = 8, figure(gate=6, full=150)
P99_S, WORST_S = figure(gate=30, full=1) / 2, figure(gate=30, full=5)  # a gate judges no machine's speed
Answer = tuple[int, float]


def supplier(who: int, n: int) -> dict[str, str]:
    return {"name": f"Fenmarsh Growers {who}.{n}", "country": "NL"}


def write(port: int, token: str, who: int) -> list[Answer]:
    """One writer's acts over one connection: how each was answered, and after how many seconds."""
    headers = {"Authorization": f"Bearer {token}", "Content-Type": "application/json"}
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=30)
    given = []
    for n in range(EACH):
        sent = time.perf_counter()
        connection.request("POST", "/api/v1/suppliers", orjson.dumps(supplier(who, n)), headers)
        answer = connection.getresponse()
        answer.read()
        given.append((answer.status, time.perf_counter() - sent))
    connection.close()
    return given


@pytest.mark.promise(r=8)
@pytest.mark.soak
def test_many_who_write_at_once_wait_for_each_other(
    tmp_path: Path, record_property: Callable[[str, object], None]
) -> None:
    house, port = House(tmp_path / "home"), free_port()
    house.run("init")
    token = house.run("token", "create", "--role", "owner", "--name", "Ana")
    with house.started("web", "--port", str(port), "--workers", "2"):
        until(lambda: answers(port), "the web answers")
        assert get(port, "/api/v1/suppliers", token)[0] == 200
        each = at_once([partial(write, port, token, who) for who in range(WRITERS)])
    given = [answer for answers_of_one in each for answer in answers_of_one]
    assert Counter(status for status, _ in given) == Counter({201: WRITERS * EACH})
    waited = [seconds for _, seconds in given]
    found = {"p99_s": quantiles(waited, n=100)[98], "worst_s": max(waited)}
    for name, seconds in found.items():
        record_property(name, round(seconds, 3))
    assert found["p99_s"] < P99_S
    assert found["worst_s"] < WORST_S


@pytest.mark.promise(r=8)
@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
def test_as_the_driver_begins_by_itself_they_are_told_that_it_is_locked(
    api: Api, served: tuple[Flask, Contract], settings: Settings
) -> None:
    def act(who: int) -> list[int]:
        return [api.grower.post("/suppliers", supplier(who, n)).status_code for n in range(6)]

    with naive_house(served[0], settings, lock_wait_s=0.0):
        each = at_once([partial(act, who) for who in range(WRITERS)])
    assert Counter(status for statuses in each for status in statuses)[503] > 0
