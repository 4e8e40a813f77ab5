"""W1 to W4: what registering, moving and receiving many cost, against the driver leaving the same rows.

Each act goes through the whole application (token, role, form, idempotency key, rules, journal, reactions).
Its floor writes into a copy of the same house, made before the first act, so that neither meets the other's
rows. Both keep what they acknowledge: SQLite with synchronous FULL, PostgreSQL with fsync and
synchronous_commit on; the clock is the wall's, since the disk is part of the job.
"""

import sqlite3
import time
from collections.abc import Callable, Iterator
from contextlib import ExitStack, closing, contextmanager
from dataclasses import dataclass, replace
from itertools import count
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import orjson
from sqlalchemy import select

from benchmarks import effects
from benchmarks.effects import Effect
from benchmarks.pages import on_driver
from benchmarks.pairs import Job, compare
from benchmarks.reading import settings
from benchmarks.run import CLOCKS, Limit, Run
from benchmarks.wsgi import Request, sending
from service.accounts.actions import create_token
from service.accounts.rules import Role
from service.adoption import adopt_reference
from service.app import create_app
from service.catalogue.models import Plant, Supplier
from service.core.clock import utc_now
from service.core.db import Database
from service.core.durability import durability
from service.core.ids import new_id
from service.core.migrations import upgrade
from service.journal.acts import Act
from service.tubs.models import Tub
from service.wiring import open_database
from tests.servers import fresh_database, postgres

REGISTER = {"sqlite": Limit("W1", 2.0, 2.5), "postgresql": Limit("W2", 1.6, 2.0)}
MOVE = Limit("W3", 2.2, 2.8)
BATCH = Limit("W4", 0.35, 0.5)
LOTS, UNITS = 32, 20  # that are moved, and lines of the shipment with many
TUBS, CPU_ROUNDS = 800, 5
# The rows that performance.md's floor writes: a lot, what is told of it, a job, the key.
FIVE = ("lot", "journal_entry", "owed_job", "idempotency_key")
Sent = Callable[[], bytes]


@dataclass(frozen=True)
class House:
    """An application on its database, and how to get the driver on a copy of it as it is now."""

    database: Database
    twin: Callable[[], Any]
    application: Any
    headers: dict[str, str]
    plant: str
    supplier: str
    tubs: list[str]

    def send(self, requests: Iterator[Request], status: str, content_type: str = "application/json") -> Sent:
        """A POST of the next of these requests."""
        base = "http://127.0.0.1:8000"
        return sending(
            self.application, requests, base, self.headers, status=status, content_type=content_type
        )


def measured(run: Run) -> None:
    """W1 to W4 on both databases."""
    for kind in CLOCKS:
        for act in (_register, _move):
            with house(kind) as found:
                act(run, kind, found)


@contextmanager
def house(kind: str) -> Iterator[House]:
    """A house with its reference data, a supplier and empty tubs, on a database that keeps what it says."""
    with TemporaryDirectory() as name, ExitStack() as opened:
        folder = Path(name)
        server = None if kind == "sqlite" else opened.enter_context(postgres(options=()))
        url = _address(server, folder, "bench")
        upgrade(url)
        told = replace(settings(folder), database_url=url)
        database = open_database(told)
        opened.callback(database.dispose)

        def twin() -> Any:
            copy = open_database(replace(told, database_url=_copied(database, server, folder)))
            opened.callback(copy.dispose)
            connection = on_driver(copy)
            opened.callback(connection.close)
            return connection

        with database.writing() as session:
            found = _furnished(session)
        yield House(database, twin, create_app(told, database, wake=lambda: None), *found)


def _address(server: str | None, folder: Path, name: str) -> str:
    return (
        f"sqlite:///{folder / name}" if server is None else fresh_database(server, f"dipledger_test_{name}")
    )


def _copied(database: Database, server: str | None, folder: Path) -> str:
    database.dispose()
    if server is not None:
        return fresh_database(server, "dipledger_test_twin", str(database.engine.url.database))
    files = (str(database.engine.url.database), folder / "twin")
    old, new = (closing(sqlite3.connect(file)) for file in files)
    with old as source, new as target:
        source.backup(target)
    return f"sqlite:///{folder / 'twin'}"


def _furnished(session: Any) -> tuple[dict[str, str], str, str, list[str]]:
    now = utc_now()
    act = Act("benchmarks", now, now)
    adopt_reference(session, act)
    _, secret = create_token(session, act, name="bench", role=Role.GROWER, days=1)
    supplier = Supplier(name="Fenmarsh Growers", country="NL", created_at=now)
    tubs = [Tub(id=new_id(), code=f"T{n}", volume_l=40, created_at=now) for n in range(TUBS)]
    session.add_all([supplier, *tubs])
    session.flush()
    plant = session.scalars(select(Plant.id).limit(1)).one()
    return {"Authorization": f"Bearer {secret}"}, str(plant), supplier.id, [tub.id for tub in tubs]


def _register(run: Run, kind: str, house: House) -> None:
    one, many = house.send(_shipments(house, 1), "201"), house.send(_shipments(house, UNITS), "201")
    effect, copy = effect_of(house, one)
    floor, five = effects.again(copy, effect), effects.again(copy, effect, FIVE)
    same = settled(lambda: effects.between(*around(copy, floor)).shape() == effect.shape())
    to_five = compare(five, one, time.perf_counter).median
    rows = sum(map(len, effect.made.values()))
    what = (
        f"one lot counted in (a shipment of one line, {rows} rows in {len(effect.made)} tables), {kind},"
        f" against the driver leaving the same rows (against lot, entry, job and key alone: {to_five:.3g}; "
    )
    keeps = durability(house.database)
    _told(run, REGISTER[kind], what, floor, one, same=same, to_five=to_five, keeps=keeps)
    told = f"{UNITS} lots counted in at once, each, {kind}, against one on the driver ("
    _told(run, BATCH, told, floor, many, same=same, parts=UNITS, keeps=keeps)


def _move(run: Run, kind: str, house: House) -> None:
    tubs = house.tubs[: 2 * LOTS]
    made = [house.send(_shipments(house, 1, tub), "201")() for tub in tubs[::2]]
    lots = [orjson.loads(each)["lots"][0]["id"] for each in made]
    move = house.send(_moves(lots, tubs), "200")
    for _ in range(2 * LOTS):  # from here on the projection of every tub is owed already
        move()
    effect, copy = effect_of(house, move)
    floor = effects.again(copy, effect)
    same = settled(lambda: effects.between(*around(copy, floor)).shape() == effect.shape())
    what = f"a lot moved to another tub, {kind}, against the driver leaving the same rows ("
    _told(run, MOVE, what, floor, move, same=same)


def _told(
    run: Run,
    limit: Limit,
    what: str,
    floor: Job,
    act: Job,
    *,
    same: Callable[[], bool],
    parts: int = 1,
    **figures: Any,
) -> None:
    """Measure by the wall; beside it by the time of our own process, which a busy machine changes less."""
    cpu = compare(floor, act, time.process_time, rounds=CPU_ROUNDS, parts=parts).median
    run.ratio(
        limit,
        f"{what}{cpu:.3g} by our CPU)",
        floor,
        act,
        time.perf_counter,
        same=same,
        parts=parts,
        cpu=cpu,
        **figures,
    )


def effect_of(house: House, act: Sent) -> tuple[Effect, Any]:
    """What an act does, and the driver on a copy of the house from before it."""
    act()  # so that nothing is new that a house has only once
    copy, reader = house.twin(), on_driver(house.database)
    found = effects.between(*around(reader, act))
    reader.close()
    return found, copy


def around(reader: Any, act: Callable[[], object]) -> tuple[effects.Rows, effects.Rows]:
    """All rows of a house before and after an act."""
    before = effects.rows_of(reader)
    act()
    return before, effects.rows_of(reader)


def settled(question: Callable[[], bool]) -> Callable[[], bool]:
    """Ask now, so that nothing is asked between two measurements; gives the answer whenever it is wanted."""
    answer = question()
    return lambda: answer


def _shipments(house: House, lines: int, tub: str | None = None) -> Iterator[Request]:
    line = {"plant_id": house.plant, "quantity": 40, "unit_of_sale": "pot", "tub_id": tub}
    body = orjson.dumps({"supplier_id": house.supplier, "lines": [line] * lines})
    while True:
        yield "/api/v1/shipments", body


def _moves(lots: list[str], tubs: list[str]) -> Iterator[Request]:
    for n in count(1):
        for lot, pair in zip(lots, zip(tubs[::2], tubs[1::2], strict=True), strict=True):
            yield f"/api/v1/lots/{lot}/moves", orjson.dumps({"tub_id": pair[n % 2]})
