"""P3, P4, P6: pages of lots over the network, beside a bare function and what a user might pick otherwise.

Each is served by the same server with one process and one thread that works, asked over eight connections
by a process of its own, in turns.
"""

import os
import statistics
import subprocess
import sys
import time
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any
from urllib.request import Request, urlopen

import orjson

from benchmarks import ledger, reading
from benchmarks.run import CLOCKS, Limit, Run
from tests.processes.house import answers, free_port, until

BARE, PRODUCT, BOOK, TYPED = "bare", "product", "book", "typed"
SERVED: Mapping[str, tuple[str, ...]] = {
    BARE: ("--interface", "wsgi", "benchmarks.peers.bare:app"),
    PRODUCT: ("--interface", "wsgi", "--factory", "service.app:from_environment"),
    BOOK: ("--interface", "wsgi", "benchmarks.peers.book:app"),
    TYPED: ("--interface", "asgi", "benchmarks.peers.typed:app"),
}
CONNECTIONS = 8
ROUNDS, FULL_ROUNDS = 3, 7
SECONDS, FULL_SECONDS = 1.0, 3.0
P3 = Limit("P3", 0.40, 0.33, least=True, unit="times")
P4 = {
    "sqlite": Limit("P4", 4.5, 3.5, least=True, unit="times"),
    "postgresql": Limit("P4", 4.0, 3.0, least=True, unit="times"),
}
TOLD = Limit("P4", 1.0, 1.0, least=True, unit="times")  # no goal was set: faster is enough
P6 = Limit("P6", 1.5, 2.5)


@dataclass(frozen=True)
class Taken:
    """What came of one slice."""

    a_second: float
    tail: float  # 99 of 100 in units of the median


def measured(run: Run) -> None:
    """P3, P4, P6 on both databases."""
    for kind in CLOCKS:
        with _served(kind) as (ports, token):
            pages = {name: _page(port, token) for name, port in ports.items()}
            if not all(_same(pages[PRODUCT], page) for page in pages.values()):
                run.figure(P3, f"{kind}: the pages are not the same", float("nan"))
                continue
            _told(run, kind, _turns(run, ports, token))


def _told(run: Run, kind: str, found: Mapping[str, list[Taken]]) -> None:
    usual = {name: statistics.median(taken.a_second for taken in slices) for name, slices in found.items()}

    def times(other: str) -> float:
        pairs = zip(found[PRODUCT], found[other], strict=True)
        return statistics.median(ours.a_second / theirs.a_second for ours, theirs in pairs)

    said = f"{usual[PRODUCT]:.0f} pages of 50 lots a second over {CONNECTIONS} connections, {kind}"
    run.figure(P3, f"{said}, against {usual[BARE]:.0f} of a bare function", times(BARE), **usual)
    run.figure(P4[kind], f"{said}, against {usual[BOOK]:.0f} of ORM, marshmallow, json", times(BOOK))
    run.figure(TOLD, f"{said}, against {usual[TYPED]:.0f} of FastAPI, ORM, pydantic", times(TYPED))
    tails = {name: statistics.median(taken.tail for taken in found[name]) for name in (PRODUCT, BARE)}
    what = f"99 of 100 in medians, {kind}: {tails[PRODUCT]:.2f}, of a bare function {tails[BARE]:.2f}"
    run.figure(P6, what, tails[PRODUCT] / tails[BARE])


@contextmanager
def _served(kind: str) -> Iterator[tuple[Mapping[str, int], str]]:
    with TemporaryDirectory() as folder, ledger.address(kind, Path(folder)) as url, ExitStack() as servers:
        found, database, token = reading.house(Path(folder), url)
        database.dispose()
        environment = {
            **{name: value for name, value in os.environ.items() if not name.startswith("DIPLEDGER_")},
            "DIPLEDGER_HOME": folder,
            "DIPLEDGER_DATABASE_URL": url,
            "DIPLEDGER_SECRET_KEY": found.secret,
            "DIPLEDGER_LOG_LEVEL": "WARNING",
            "DIPLEDGER_REQUESTS_PER_MINUTE": "1000000",
            "DIPLEDGER_UNSAFE_DATABASE": "yes",
            "BENCH_TOKEN": token,
        }
        ports = {name: servers.enter_context(_server(name, environment)) for name in SERVED}
        yield ports, token


@contextmanager
def _server(name: str, environment: Mapping[str, str]) -> Iterator[int]:
    port = free_port()
    command = [sys.executable, "-m", "granian", "--host", "127.0.0.1", "--port", str(port), "--workers", "1"]
    command += ["--no-ws", "--log-level", "warning"]
    command += ["--blocking-threads", "1"] if "wsgi" in SERVED[name] else []
    with subprocess.Popen([*command, *SERVED[name]], env=environment) as process:
        try:
            until(lambda: answers(port), f"{name} answers")
            yield port
        finally:
            process.terminate()


def _page(port: int, token: str) -> Any:
    request = Request(
        f"http://127.0.0.1:{port}{reading.PATH}", headers={"Authorization": f"Bearer {token}"}
    )  # our own address
    ends = time.monotonic() + 30
    while True:
        try:
            with urlopen(request, timeout=10) as response:  # noqa: S310  # as above
                return orjson.loads(response.read())
        except OSError:
            if time.monotonic() > ends:
                raise
            time.sleep(0.2)


def _same(ours: Any, theirs: Any) -> bool:
    """Whether both tell of the same lots the same; each stack writes moments in its own way."""
    pairs = list(zip(ours["items"], theirs["items"], strict=True))
    names = ("id", "code", "plant", "supplier", "state", "quantity", "version", "release_day_stale", "holds")
    told = all(one[name] == other[name] for one, other in pairs for name in names)
    whole = all(one.keys() == other.keys() for one, other in pairs)
    return len(pairs) == 50 and told and whole


def _turns(run: Run, ports: Mapping[str, int], token: str) -> Mapping[str, list[Taken]]:
    found: dict[str, list[Taken]] = {name: [] for name in ports}
    for port in ports.values():
        _slice(port, token, 0.5)
    for n in range(FULL_ROUNDS if run.full else ROUNDS):
        for name in list(ports) if n % 2 else reversed(list(ports)):
            found[name].append(_slice(ports[name], token, FULL_SECONDS if run.full else SECONDS))
    return found


def _slice(port: int, token: str, seconds: float) -> Taken:
    asked = (str(port), reading.PATH, token, str(CONNECTIONS), str(seconds))
    done = subprocess.run([sys.executable, "-m", "benchmarks.load", *asked], capture_output=True, check=True)
    told = orjson.loads(done.stdout)
    if told["wrong"]:
        raise RuntimeError(f"{told['wrong']} of {told['answers']} were not 200")
    return Taken(told["answers"] / seconds, told["p99_ms"] / told["p50_ms"])
