"""R9: what PostgreSQL gave up for another's sake is done anew, and nobody who sent it sees anything of it."""

import re
import threading
from collections import Counter
from functools import partial
from typing import Any

import psycopg
import pytest
from flask import g
from sqlalchemy import event, func, select, text
from sqlalchemy.engine import URL
from structlog.testing import capture_logs

from service.catalogue.models import Supplier
from service.core import again, db
from service.core.db import Database
from tests.api import Api
from tests.promises.naive import at_once
from tests.rewound import OTHERS
from tests.soak import figure

ASKING, AT_ONCE = figure(gate=24, full=240), figure(gate=8, full=16)
SUPPLIER: dict[str, Any] = {"name": "Brookside Aquatics", "country": "PT"}
on_postgresql = pytest.mark.parametrize("database_kind", ["postgresql"], indirect=True)


@pytest.fixture
def once(monkeypatch: pytest.MonkeyPatch) -> None:
    """The control: every request has one try."""
    monkeypatch.setattr(again, "TRIES", 1)


@pytest.fixture
def strict(database: Database) -> None:
    """A house whose acts are serializable: of two that touch one row, PostgreSQL gives one up (40001)."""
    database.writer.configure(bind=database.engine.execution_options(isolation_level="SERIALIZABLE"))


def tried_again(api: Api) -> Counter[str]:
    scraped = api.nobody.get("/metrics").get_data(as_text=True)
    found = re.findall(r'^dipledger_tried_again_total{cause="(\w+)"} (\S+)$', scraped, re.MULTILINE)
    return Counter({cause: int(float(number)) for cause, number in found})


def answered(api: Api) -> Counter[int]:
    """How acts are answered, so many at once, that all want the last row of the journal."""

    def act(who: int) -> list[int]:
        names = (f"Brookside Aquatics {who}.{n}" for n in range(ASKING // AT_ONCE))
        return [api.grower.post("/suppliers", SUPPLIER | {"name": name}).status_code for name in names]

    each = at_once([partial(act, who) for who in range(AT_ONCE)])
    return Counter(status for answers in each for status in answers)


@pytest.mark.promise(r=9)
@pytest.mark.soak
@on_postgresql
@pytest.mark.usefixtures("strict")
def test_nobody_sees_that_all_wanted_the_same_row(api: Api, database: Database) -> None:
    before = tried_again(api)
    assert answered(api) == Counter({201: ASKING})
    assert tried_again(api)["serialization"] > before["serialization"]
    with database.reading() as session:
        assert session.scalar(select(func.count()).select_from(Supplier)) == ASKING


@pytest.mark.promise(r=9)
@on_postgresql
@pytest.mark.usefixtures("strict", "once")
def test_with_one_try_they_do(api: Api) -> None:
    with capture_logs():
        assert answered(api)[503] > 0


class Deadlock:
    """Somebody who has what the next act wants last, and wants what it has by then."""

    def __init__(self, database: Database, taken: str, wanted: str) -> None:
        self._database, self._taken, self._wanted = database, taken, wanted
        self._act_has_it, self._had = threading.Event(), False
        self.thread = threading.Thread(target=self._get_in_the_way)
        self._in_the_way = threading.Event()

    def __enter__(self) -> None:
        event.listen(self._database.engine, "after_cursor_execute", self._after)
        self.thread.start()
        assert self._in_the_way.wait(20)

    def __exit__(self, *_: object) -> None:
        self._act_has_it.set()
        self.thread.join()
        event.remove(self._database.engine, "after_cursor_execute", self._after)

    def _get_in_the_way(self) -> None:
        with self._database.writing() as other:
            other.execute(text("SET LOCAL deadlock_timeout = '1min'"))  # so it is the act that is given up
            other.execute(text(f"LOCK TABLE {self._taken} IN ACCESS EXCLUSIVE MODE"))
            self._in_the_way.set()
            assert self._act_has_it.wait(20)
            other.execute(text(f"LOCK TABLE {self._wanted} IN ACCESS EXCLUSIVE MODE"))

    def _after(self, _conn: Any, _cursor: Any, statement: str, *_: object) -> None:
        if statement.startswith(f"INSERT INTO {self._wanted}"):
            self._act_has_it.set()


def names(api: Api) -> list[str]:
    return [supplier["name"] for supplier in api.grower.seen("/suppliers")["items"]]


@pytest.mark.promise(r=9)
@on_postgresql
def test_an_act_that_was_given_up_in_a_deadlock_happens_once(api: Api, database: Database) -> None:
    before = tried_again(api)
    with Deadlock(database, "journal_entry", "supplier"):
        assert api.grower.post("/suppliers", SUPPLIER).status_code == 201
    assert tried_again(api) - before == Counter(deadlock=1)
    assert names(api) == [SUPPLIER["name"]]


@pytest.mark.promise(r=9)
@on_postgresql
@pytest.mark.usefixtures("once")
def test_with_one_try_a_deadlock_is_seen(api: Api, database: Database) -> None:
    with capture_logs(), Deadlock(database, "journal_entry", "supplier"):
        assert api.grower.post("/suppliers", SUPPLIER).status_code == 503


def cut_all(url: URL) -> None:
    """End everybody's connection, as a server does that is started anew."""
    plain = url.set(drivername="postgresql").render_as_string(hide_password=False)
    with psycopg.connect(plain, autocommit=True) as other:
        other.execute(OTHERS)


@pytest.fixture
def cut_before_commit(database: Database, monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """The connection of the next act is cut when all is done but the commit."""
    cuts: list[str] = []
    dialect: Any = database.engine.dialect
    to_the_end = dialect.do_commit

    def commit(connection: Any) -> None:
        if not cuts and "session" in g:
            cuts.append(g.request_id)
            cut_all(database.engine.url)
        to_the_end(connection)

    monkeypatch.setattr(dialect, "do_commit", commit)
    return cuts


@pytest.mark.promise(r=9)
@on_postgresql
@pytest.mark.parametrize("page", [False, True])
def test_a_connection_found_cut_is_replaced_and_nobody_sees_it(
    api: Api, database: Database, monkeypatch: pytest.MonkeyPatch, page: bool
) -> None:
    monkeypatch.setattr(db, "IDLE_S", 60.0)  # as if it had been used a moment ago
    assert names(api) == []
    before = tried_again(api)
    cut_all(database.engine.url)
    if page:
        assert api.nobody.get("/console/").status_code == 303
    else:
        assert api.grower.post("/suppliers", SUPPLIER).status_code == 201
        assert names(api) == [SUPPLIER["name"]]
    assert tried_again(api) - before == Counter(connection=1)


@pytest.mark.promise(r=9)
@on_postgresql
@pytest.mark.parametrize(("key", "status"), [({"Idempotency-Key": "once-0001"}, 201), ({}, 503)])
def test_a_commit_that_was_cut_off_is_only_sent_again_under_a_key(
    api: Api, cut_before_commit: list[str], key: dict[str, str], status: int
) -> None:
    with capture_logs():
        assert api.grower.post("/suppliers", SUPPLIER, **key).status_code == status
    assert cut_before_commit
    assert len(names(api)) == (status == 201)
