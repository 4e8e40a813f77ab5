"""R1 and R3: whenever the process dies, an act happened whole or not at all; sent again it happened once."""

from collections import Counter
from collections.abc import Iterator, Mapping
from typing import Any
from uuid import uuid4

import pytest
from flask import Flask
from sqlalchemy import event, func, select
from sqlalchemy.orm import Session
from werkzeug.test import TestResponse

from service.core import idempotency
from service.core.clock import utc_now
from service.core.db import Database, snapshot
from service.core.settings import Settings
from service.journal.models import JournalEntry
from service.journal.queries import check_chain
from service.reports.proofs import prove
from tests.api import BASE, Api, Client, Contract
from tests.journeys.bench import Bench
from tests.make_quarantine import ADULT, work_done
from tests.make_sales import order
from tests.promises.dying import Attempt, End, attempted
from tests.promises.everything import everything
from tests.recalls.test_complaints import ONE_SNAIL
from tests.soak import figure

POINTS = figure(gate=2, full=1000)  # of one act, spread over its statements, beside those about its commit
TIMES = figure(gate=1, full=4)  # that one kind of act is tried in a story
KINDS = 25  # kinds of act that a story has to try, or it proves too little


class Dying:
    """A house whose every act is first tried by processes that die."""

    def __init__(self, app: Flask, settings: Settings, database: Database) -> None:
        self.app, self.settings, self.database = app, settings, database
        self.tried: Counter[str] = Counter()

    def kind(self, method: str, path: str) -> str:
        """The kind of act: what it does to what, whichever one."""
        urls = self.app.url_map.bind("localhost")
        rule, _ = urls.match(BASE + path.split("?", maxsplit=1)[0], method, return_rule=True)
        return f"{method} {rule.rule}"

    def try_before(self, client: "DyingClient", method: str, path: str, sent: Mapping[str, Any]) -> bool:
        """Die before the commit, wherever that is: nothing was changed. False: there is no commit."""
        before = everything(self.database)
        end = self._end(client, method, path, sent, Attempt(before_commit=True))
        if end.status is not None:
            return False
        for point in _spread(end.statements):
            self._end(client, method, path, sent, Attempt(statement=point))
            assert everything(self.database) == before, (method, path, point)
        return True

    def try_after(self, client: "DyingClient", path: str, sent: Mapping[str, Any]) -> TestResponse:
        """Die between the commit and the answer, and ask again with the same key: it happened once."""
        before, entries = everything(self.database), self.written()
        assert self._end(client, "POST", path, sent, Attempt(after_commit=True)).committed
        after = everything(self.database)
        assert after != before
        assert self.written() > entries, path
        answer = Client.send(client, "POST", path, **sent)
        assert answer.headers["Idempotency-Replayed"] == "true"
        assert everything(self.database) == after, path
        return answer

    def written(self) -> int:
        """How many entries the journal has that say who wrote them, by which request."""
        said = (JournalEntry.by != "", JournalEntry.request_id.is_not(None))
        with self.database.reading() as session:
            return session.scalars(select(func.count()).select_from(JournalEntry).where(*said)).one()

    def _end(
        self, client: "DyingClient", method: str, path: str, sent: Mapping[str, Any], how: Attempt
    ) -> End:
        end = attempted(
            self.app, self.settings, lambda: Client.send(client, method, path, **sent).status_code, how
        )
        assert end.status is None or not end.committed
        return end


class DyingClient(Client):
    """A caller of that house."""

    house: Dying

    def send(self, method: str, path: str, body: Any = None, **more: Any) -> TestResponse:
        if method == "GET":
            return super().send(method, path, body, **more)
        headers = {"Idempotency-Key": uuid4().hex, **(more.pop("headers", None) or {})}
        sent = {"body": body, "headers": headers, **more}
        kind = self.house.kind(method, path)
        if self.house.tried[kind] < TIMES and self.house.try_before(self, method, path, sent):
            self.house.tried[kind] += 1
            if method == "POST":
                return self.house.try_after(self, path, sent)
        return super().send(method, path, **sent)


def _spread(statements: int) -> Iterator[int]:
    """Statements from the first to the last, as many as are asked for."""
    step = max(1, -(-statements // POINTS))
    yield from range(statements, 0, -step)


@pytest.fixture
def house(
    served: tuple[Flask, Contract], settings: Settings, database: Database, api: Api
) -> tuple[Dying, Api]:
    found = Dying(served[0], settings, database)
    for role in ("owner", "manager", "grower", "seller", "shop"):
        client = getattr(api, role)
        client.__class__ = type("Client", (DyingClient,), {"house": found})
    return found, api


def story(api: Api, database: Database) -> None:
    """From a shipment to a recall, with what goes wrong on the way."""
    bench = Bench(api)
    lot = bench.cleared_lot()
    neighbour = bench.ready_lot(tub=bench.tub("Q2"))
    bench.api.manager.made(f"/lots/{neighbour}/holds", {"cause": "doubt", "reason": "look again"})
    bench.lift(neighbour)
    bench.api.grower.made(f"/lots/{neighbour}/losses", {"quantity": 2, "cause": "melt"})
    bench.api.grower.made(f"/lots/{neighbour}/splits", {"quantity": 5, "reason": "two benches"})
    stock(bench)
    sales(bench, lot)
    bench.look(bench.age - 0.5, lot_id=neighbour, sample_size=5, findings=[ADULT])
    work_done(database)
    bench.api.manager.made("/recalls", {"reason": "snails at a customer's", "lot_id": lot})


def stock(bench: Bench) -> None:
    """A bottle is received, counted, spilt; a dip is poured out of it, and a bath kept."""
    batch = bench.batch("potassium-alum", 1000, "g")
    of_it = {"batch_id": batch["id"]}
    bench.api.grower.made("/stock-counts", {**of_it, "counted": {"value": 990, "unit": "g"}})
    spilt = {"quantity": {"value": 1, "unit": "g"}, "way": "spilled", "reason": "it fell"}
    bench.api.grower.made("/stock-disposals", {**of_it, **spilt})
    tub = bench.tub("Q3")
    lot = bench.lot("leptochilus-pteropus", 10)["id"]
    steps = bench.api.grower.seen("/protocols/alum-soak/versions/1")["content"]["steps"]
    bench.treat("alum-soak", tub, [lot], 0.1, [step["duration"]["target_s"] / 3600 for step in steps])
    bench.api.grower.made(f"/lots/{lot}/moves", {**bench.when(30), "tub_id": bench.tub("Q4")})


def sales(bench: Bench, lot: str) -> None:
    """A lot is promised, sold, returned by correction and complained of."""
    promise = bench.api.shop.made("/reservations", order(lot, 3))
    assert bench.api.shop.send("DELETE", f"/reservations/{promise['id']}").status_code == 204
    kept = bench.api.shop.made("/reservations", order(lot, 3, order_ref="W-3"))
    bench.api.shop.made(f"/reservations/{kept['id']}/confirmation")
    sale = {"order_ref": "W-1", "customer_ref": "c-1", "lines": [{"lot_id": lot, "quantity": 2}]}
    first = bench.api.shop.made("/dispatches", sale)
    bench.api.manager.made(f"/dispatches/{first['id']}/reversal", {"reason": "typed twice"})
    second = bench.api.shop.made("/dispatches", {**sale, "order_ref": "W-2"})
    bench.api.seller.made("/complaints", {**ONE_SNAIL, "dispatch_id": second["id"]})


@pytest.mark.promise(r=1)
@pytest.mark.promise(r=3)
@pytest.mark.promise(r=16)
@pytest.mark.soak
def test_an_act_happens_whole_or_not_at_all_wherever_its_process_dies(
    house: tuple[Dying, Api], database: Database
) -> None:
    dying, api = house
    story(api, database)
    work_done(database)
    with snapshot(database) as session:
        assert check_chain(session).broken_at is None
        assert [proof for proof in prove(session, utc_now()) if proof.wrong] == []
    assert len(dying.tried) >= KINDS


@pytest.mark.promise(r=1)
def test_an_act_in_two_transactions_would_be_found_out(house: tuple[Dying, Api]) -> None:
    def too_early(session: Session, _context: object) -> None:
        session.connection().connection.commit()

    event.listen(Session, "after_flush", too_early)
    try:
        with pytest.raises(AssertionError):
            house[1].grower.made("/suppliers", {"name": "Fenmarsh Growers", "country": "NL"})
    finally:
        event.remove(Session, "after_flush", too_early)


@pytest.mark.promise(r=3)
def test_an_answer_that_is_not_kept_with_its_act_would_be_found_out(
    house: tuple[Dying, Api], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(idempotency, "keep", lambda *_, **__: None)
    with pytest.raises((AssertionError, KeyError)):
        house[1].grower.made("/suppliers", {"name": "Fenmarsh Growers", "country": "NL"})
