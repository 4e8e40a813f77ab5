"""W5: eight clients that all write at once, on SQLite, to the service as it is served.

`dipledger serve` is started as it is (web, worker and beat), and eight threads send acts over the network,
each the next when the last is answered. What counts is the longest that any of them waited, and that nobody
was told to come again.
"""

import statistics
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from http.client import HTTPConnection
from pathlib import Path
from tempfile import TemporaryDirectory

import orjson

from benchmarks.run import Limit, Run
from tests.processes.house import House, answers, free_port, until

FAIR = Limit("W5", 100, 250, unit="ms")
CLIENTS = 8
SECONDS, FULL_SECONDS = 3, 5
Taken = list[tuple[int, float]]  # status, milliseconds


def measured(run: Run) -> None:
    """W5."""
    with _served() as (port, token):
        _write(port, token, 1, time.perf_counter() + 1)  # everything is loaded then
        alone = _sent(port, token, 1, 1)
        found = _sent(port, token, CLIENTS, FULL_SECONDS if run.full else SECONDS)
    waits = [taken for _, taken in found]
    turned_away = sum(status != 201 for status, _ in found)
    usual = statistics.median(taken for _, taken in alone)
    what = (
        f"longest wait of {CLIENTS} clients that write, SQLite, dipledger serve: {len(found)} acts,"
        f" {turned_away} turned away, median {statistics.median(waits):.3g} ms"
        f" (one client alone: {usual:.3g} ms)"
    )
    worst = max(waits) if not turned_away else float("inf")
    run.figure(FAIR, what, worst, acts=len(found), turned_away=turned_away, alone_ms=usual)


@contextmanager
def _served() -> Iterator[tuple[int, str]]:
    with TemporaryDirectory() as folder:
        house, port = House(Path(folder) / "home"), free_port()
        house.run("init")
        token = house.run("token", "create", "--role", "owner", "--name", "bench")
        with house.started("serve", "--port", str(port)):
            until(lambda: answers(port), "the web answers")
            yield port, token


def _sent(port: int, token: str, clients: int, seconds: float) -> Taken:
    found: list[Taken] = []
    ends = time.perf_counter() + seconds
    threads = [
        threading.Thread(target=lambda n=n: found.append(_write(port, token, n, ends)))
        for n in range(clients)
    ]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return [each for taken in found for each in taken]


def _write(port: int, token: str, client: int, ends: float) -> Taken:
    connection, found = HTTPConnection("127.0.0.1", port, timeout=30), Taken()
    headers = {"Authorization": f"Bearer {token}", "Content-Type": "application/json"}
    while time.perf_counter() < ends:
        name = f"Grower {client} {time.perf_counter_ns()}"  # never twice
        started = time.perf_counter()
        connection.request(
            "POST", "/api/v1/suppliers", orjson.dumps({"name": name, "country": "NL"}), headers
        )
        answer = connection.getresponse()
        answer.read()
        found.append((answer.status, (time.perf_counter() - started) * 1000))
    connection.close()
    return found
