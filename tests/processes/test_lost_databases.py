"""PostgreSQL and the web are killed in the middle of acts: what was acknowledged is there, once and whole."""

import os
import signal
import threading
import time
from collections import Counter
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from functools import partial
from pathlib import Path

import pytest

from service.core.db import IDLE_S
from service.core.silence import CONNECT_S, PING_S
from tests.house import SECRET
from tests.processes.house import House, answers, free_port, get, send, until
from tests.servers.kin import below
from tests.servers.mortal import Mortal, mortal_postgres
from tests.soak import figure

KILLS, SQLITE_KILLS = figure(gate=1, full=20), figure(gate=1, full=60)
WRITERS = 3
AT_FIRST_S = 1.5  # after the server is back: connections from before are found cut


class Writer(threading.Thread):
    """Somebody who enters suppliers one after the other, each until he is told that it is there."""

    def __init__(self, port: int, token: str, who: int, stop: threading.Event) -> None:
        super().__init__()
        self._port, self._token, self._who, self._stop_ = port, token, who, stop
        self.acknowledged: list[str] = []
        self.told: list[tuple[float, int]] = []  # when he asked, and the status he got

    def run(self) -> None:
        while not self._stop_.is_set():
            name = f"Fenmarsh Growers {self._who}.{len(self.acknowledged)}"
            while not self._entered(name):
                time.sleep(0.1)
            self.acknowledged.append(name)

    def _entered(self, name: str) -> bool:
        asked, body = time.monotonic(), {"name": name, "country": "NL"}
        try:
            key = name.replace(" ", "-")
            status, _ = send(self._port, "POST", "/api/v1/suppliers", body, self._token, Idempotency_Key=key)
        except OSError:  # the web was killed, or is not there yet
            return False
        self.told.append((asked, status))
        return status == 201


@contextmanager
def writers(port: int, token: str) -> Iterator[list[Writer]]:
    """Some who write all at once for as long as this lasts."""
    stop = threading.Event()
    found = [Writer(port, token, who, stop) for who in range(WRITERS)]
    for one in found:
        one.start()
    try:
        yield found
    finally:
        stop.set()
        for one in found:
            one.join()


def listed(port: int, token: str) -> Counter[str]:
    """How often each supplier is there."""
    names: Counter[str] = Counter()
    path = "/api/v1/suppliers?limit=200"
    while path:
        page = get(port, path, token)[1]
        names.update(item["name"] for item in page["items"])
        after = page.get("next")
        path = f"/api/v1/suppliers?limit=200&cursor={after}" if after else ""
    return names


@pytest.fixture(scope="module")
def server() -> Iterator[tuple[Mortal, str]]:
    with mortal_postgres() as found:
        yield found


@pytest.fixture(scope="module")
def house(server: tuple[Mortal, str], tmp_path_factory: pytest.TempPathFactory) -> House:
    """A house on it, as a nursery has it: safe settings, and no broker."""
    found = House(
        tmp_path_factory.mktemp("home"), DIPLEDGER_DATABASE_URL=server[1], DIPLEDGER_SECRET_KEY=SECRET
    )
    found.run("db", "upgrade")
    return found


@pytest.mark.promise(r=1)
@pytest.mark.soak
def test_what_was_acknowledged_is_there_whatever_was_killed(
    house: House, server: tuple[Mortal, str], record_property: Callable[[str, object], None]
) -> None:
    database, port = server[0], free_port()
    token = house.run("token", "create", "--role", "owner", "--name", "Ana")
    back: list[float] = []
    with house.started("web", "--port", str(port), "--workers", "2") as web:
        until(lambda: answers(port), "the web answers")
        with writers(port, token) as people:
            for _ in range(KILLS):
                acts_go_on(people)
                database.kill()
                database.start()
                back.append(time.monotonic())
                acts_go_on(people)
                many = below(web.pid)
                os.kill(many[-1], signal.SIGKILL)  # one of those who answer
                acts_go_on(people)
                until(partial(replaced, web.pid, many), "it is replaced")
        found = listed(port, token)
    acknowledged = [name for one in people for name in one.acknowledged]
    told = [one for person in people for one in person.told]
    record_property("acknowledged", len(acknowledged))
    record_property("refused", sum(status == 503 for _, status in told))
    assert found == Counter(acknowledged)
    assert {status for _, status in told} <= {201, 503}
    refused = [asked for asked, status in told if status == 503]
    assert not [asked for asked in refused for since in back if since < asked < since + AT_FIRST_S]
    assert "intact" in house.run("journal", "check")


@pytest.mark.promise(r=1)
@pytest.mark.soak
def test_what_was_acknowledged_on_sqlite_is_there_whoever_of_the_web_was_killed(tmp_path: Path) -> None:
    house, port = House(tmp_path / "home"), free_port()
    house.run("init")
    token = house.run("token", "create", "--role", "owner", "--name", "Ana")
    with house.started("web", "--port", str(port), "--workers", "2") as web:
        until(lambda: answers(port), "the web answers")
        with writers(port, token) as people:
            for n in range(SQLITE_KILLS):
                acts_go_on(people)
                many = below(web.pid)
                os.kill(many[-1 - n % 2], signal.SIGKILL)
                until(partial(replaced, web.pid, many), "it is replaced")
            acts_go_on(people)
        found = listed(port, token)
    assert found == Counter(name for one in people for name in one.acknowledged)
    assert "intact" in house.run("journal", "check")


def replaced(web: int, before: list[int]) -> bool:
    """Whether as many processes are there as before, one of them another."""
    return len(now := below(web)) == len(before) and set(now) != set(before)


def acts_go_on(people: list[Writer]) -> None:
    """Wait until everybody has done something more, with whatever runs now."""
    before = [len(one.acknowledged) for one in people]
    until(lambda: all(len(p.acknowledged) > n + 1 for p, n in zip(people, before, strict=True)), "acts go on")


@pytest.mark.promise(r=8)
def test_while_the_database_hangs_an_act_is_answered_with_try_again(
    house: House, server: tuple[Mortal, str]
) -> None:
    database, port = server[0], free_port()
    token = house.run("token", "create", "--role", "owner", "--name", "Ana")
    supplier = {"name": "Brookside Aquatics", "country": "NL"}
    with house.started("web", "--port", str(port)):
        until(lambda: answers(port), "the web answers")
        assert get(port, "/api/v1/suppliers", token)[0] == 200
        time.sleep(IDLE_S)
        database.hang()
        asked = time.monotonic()
        try:
            status, said = send(port, "POST", "/api/v1/suppliers", supplier, token)
            waited = time.monotonic() - asked
            assert get(port, "/healthz")[0] == 200
        finally:
            database.go_on()
        assert (status, said["type"]) == (503, "/problems/unavailable")
        assert waited < PING_S + CONNECT_S + 5
        assert send(port, "POST", "/api/v1/suppliers", supplier, token)[0] == 201
