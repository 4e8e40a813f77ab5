"""G1, G2: one nursery on 1, 2 and 4 web and worker processes, on real PostgreSQL and Redis.

Clients count lots in and read pages of them, each act under a key and again until it is acknowledged. In the
middle of each stretch one web process and one worker are killed, and have to be replaced. G1: what more
processes give (as far as this machine has cores: clients and PostgreSQL want some too). G2: what was
acknowledged is there once, all that was owed is done, and the journal has no gap.
"""

import os
import signal
import threading
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from http.client import HTTPConnection, HTTPException
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import orjson
from sqlalchemy import func, select

from benchmarks.ledger import address
from benchmarks.run import Limit, Run
from service.core.clock import utc_now
from service.core.db import Database
from service.core.jobs import OwedJob
from service.lots.models import Lot
from tests.house import SECRET
from tests.processes.house import House, answers, free_port, until
from tests.servers import redis
from tests.servers.kin import below

RISING = Limit("G1", 1.1, 0.9, least=True, unit="times")
WHOLE = Limit("G2", 0, 0, unit="wrong")
PROCESSES = (1, 2, 4)
CLIENTS, READS_AN_ACT = 8, 4
SECONDS, FULL_SECONDS = 6.0, 30.0
NURSERY = {"name": "Fenmarsh Growers", "country": "NL"}


@dataclass
class Client:
    """Somebody who counts lots in, each until he is told that it is there, and reads between."""

    port: int
    token: str
    who: str
    body: bytes
    acknowledged: list[str] = field(default_factory=list)
    answered: int = 0
    connection: HTTPConnection | None = None

    def work(self, stop: threading.Event) -> None:
        """Do so until it is enough."""
        while not stop.is_set():
            key = f"{self.who}-{len(self.acknowledged)}"
            self.acknowledged.append(self.told("POST", "/api/v1/shipments", key)["lots"][0]["id"])
            for _ in range(READS_AN_ACT):
                self.asked("GET", "/api/v1/lots?limit=50")

    def told(self, method: str, path: str, key: str = "") -> Any:
        """The body of a good answer, asked for until there is one."""
        while (found := self.asked(method, path, key)) is None:
            time.sleep(0.05)
        return found

    def asked(self, method: str, path: str, key: str = "") -> Any:
        """The body of a good answer; None when it has to be asked for again."""
        headers = {"Authorization": f"Bearer {self.token}", "Content-Type": "application/json"}
        try:
            if self.connection is None:
                self.connection = HTTPConnection("127.0.0.1", self.port, timeout=30)
            body = self.body if key else None
            self.connection.request(
                method, path, body, {**headers, **({"Idempotency-Key": key} if key else {})}
            )
            answer = self.connection.getresponse()
            told = orjson.loads(answer.read())
        except (OSError, HTTPException):  # whoever answered was killed
            self.connection = None
            return None
        self.answered += answer.status < 400
        return told if answer.status < 400 else None


def measured(run: Run) -> None:
    """G1 and G2."""
    seconds = FULL_SECONDS if run.full else SECONDS
    with _house() as (house, database):
        found = {count: _stretch(house, database, count, seconds) for count in PROCESSES}
        told = ", ".join(f"{count}: {one['a_second']:.0f}" for count, one in found.items())
        for count in PROCESSES[1:]:
            what = f"answers a second of {count} web and worker processes against one ({told})"
            run.figure(RISING, what, found[count]["a_second"] / found[1]["a_second"], **found[count])
        wrong = sum(one["wrong"] for one in found.values())
        intact = "intact" in house.run("journal", "check")
        acts = sum(one["acts"] for one in found.values())
        what = f"acts lost, doubled or left undone of {acts:.0f}, with {2 * len(PROCESSES)} processes killed"
        run.figure(WHOLE, what, wrong if intact else float("inf"))


@contextmanager
def _house() -> Iterator[tuple[House, Database]]:
    with TemporaryDirectory() as folder, address("postgresql", Path(folder)) as url, redis() as broker:
        house = House(
            Path(folder) / "home",
            DIPLEDGER_DATABASE_URL=url,
            DIPLEDGER_REDIS_URL=broker,
            DIPLEDGER_SECRET_KEY=SECRET,
            DIPLEDGER_UNSAFE_DATABASE="yes",  # the server of the tests does not wait for the disk
        )
        house.run("init")
        database = Database(url)
        yield house, database
        database.dispose()


def _stretch(house: House, database: Database, count: int, seconds: float) -> dict[str, float]:
    port, stop = free_port(), threading.Event()
    token = house.run("token", "create", "--role", "owner", "--name", f"scale {count}")
    web = ("web", "--port", str(port), "--workers", str(count))
    with house.started(*web) as answering, house.started("worker", "--concurrency", str(count)) as working:
        until(lambda: answers(port), "the web answers")
        with house.started("beat"):
            supplier, clients = _clients(port, token, count)
            threads = [threading.Thread(target=client.work, args=(stop,)) for client in clients]
            begun = time.perf_counter()
            for thread in threads:
                thread.start()
            time.sleep(seconds / 2)
            for process in (answering.pid, working.pid):
                os.kill(below(process)[-1], signal.SIGKILL)
            time.sleep(seconds / 2)
            stop.set()
            for thread in threads:
                thread.join()
            taken = time.perf_counter() - begun
            until(lambda: _left(database) == 0, "all that was owed is done")
            until(lambda: len(below(answering.pid)) >= count, "who was killed is replaced")
    made = [lot for client in clients for lot in client.acknowledged]
    answered = sum(client.answered for client in clients)
    return {
        "a_second": answered / taken,
        "acts": float(len(made)),
        "wrong": float(_wrong(database, made, supplier)),
    }


def _clients(port: int, token: str, count: int) -> tuple[str, list[Client]]:
    first = Client(port, token, f"{count}-first", orjson.dumps(NURSERY))
    supplier = first.told("POST", "/api/v1/suppliers", f"{count}-supplier")
    plant = first.told("GET", "/api/v1/plants?limit=1")["items"][0]
    line = {"plant_id": plant["id"], "quantity": 20, "unit_of_sale": "pot"}
    body = orjson.dumps({"supplier_id": supplier["id"], "lines": [line]})
    return supplier["id"], [Client(port, token, f"{count}-{n}", body) for n in range(CLIENTS)]


def _left(database: Database) -> int:
    due = select(func.count()).select_from(OwedJob).where(OwedJob.due_at <= utc_now())
    with database.reading() as session:
        return session.scalar(due) or 0


def _wrong(database: Database, made: list[str], supplier: str) -> int:
    """How many acts of a stretch are lost, doubled, or there though nobody was told so."""
    with database.reading() as session:
        there = Counter(session.scalars(select(Lot.id).where(Lot.supplier_id == supplier)))
    told = Counter(made)
    return sum(((there - told) + (told - there)).values())
