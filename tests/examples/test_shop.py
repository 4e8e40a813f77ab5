"""The sample shop beside a really started house: all between them is killed, and they agree in the end."""

import http.client
import itertools
import os
import secrets
import subprocess
import sys
import threading
import time
import urllib.error
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import orjson
import pytest

from service.accounts.rules import Role
from service.core.settings import Settings
from tests.api import Api
from tests.examples.cable import Cable
from tests.house import SECRET
from tests.journeys.bench import Bench
from tests.make_sales import named
from tests.processes.house import PATIENCE_S, House, answers, send, until

SHOP = Path(__file__).parents[2] / "examples" / "shop" / "shop.py"
SKU, FIRST, SECOND = "AN-P", 20, 15


def ports() -> Iterator[int]:
    """Free ports below the ephemeral range, each once, by chance: other tests look for theirs meanwhile."""
    choice = list(range(14_000, 20_000))
    secrets.SystemRandom().shuffle(choice)
    for port in choice:
        if not answers(port):
            yield port


class Running:
    """One program that is killed and started again."""

    def __init__(self, port: int, command: list[str], environment: dict[str, str]) -> None:
        self.port, self._command, self._environment = port, command, environment
        self._process: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        quiet = subprocess.DEVNULL
        self._process = subprocess.Popen(self._command, env=self._environment, stdout=quiet, stderr=quiet)
        until(lambda: answers(self.port), f"port {self.port} answers")

    def kill(self) -> None:
        if self._process is not None:
            self._process.kill()
            self._process.wait()
        until(lambda: not answers(self.port), f"port {self.port} is dead")


class Buyer(threading.Thread):
    """Orders one to three plants again and again, each until it is settled, by a reference of its own."""

    def __init__(self, name: str, port: int) -> None:
        super().__init__(name=name, daemon=True)
        self._port = port
        self.settled: dict[str, Any] = {}
        self.tries = 0
        self.enough = threading.Event()

    def run(self) -> None:
        for n in itertools.takewhile(lambda _: not self.enough.is_set(), itertools.count()):
            ref = f"{self.name}-{n}"
            order = {"ref": ref, "sku": SKU, "quantity": 1 + n % 3}
            while ref not in self.settled:
                self.tries += 1
                status, said = ask(self._port, "/orders", order)
                if status == 200:
                    self.settled[ref] = said
                time.sleep(0.25)


def ask(port: int, path: str, body: Any = None) -> tuple[int, Any]:
    """What the shop says; 0 when it does not."""
    data = None if body is None else orjson.dumps(body)
    try:
        return _answered(f"http://127.0.0.1:{port}{path}", data)
    except (OSError, ValueError, http.client.HTTPException):  # it may be killed in the middle of a word
        return 0, None


def _answered(address: str, data: bytes | None) -> tuple[int, Any]:
    try:
        with urllib.request.urlopen(address, data, timeout=20) as answer:
            return answer.status, orjson.loads(answer.read())
    except urllib.error.HTTPError as refusal:
        with refusal:
            return refusal.code, orjson.loads(refusal.read())


@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
def test_shelf_and_service_agree_whatever_was_killed_in_between(
    api: Api, settings: Settings, tmp_path: Path
) -> None:
    bench = Bench(api)
    first = bench.cleared_lot(FIRST, bench.tub("Q1"))
    second = bench.ready_lot(SECOND, bench.tub("Q2"))
    named(bench, SKU)
    free = ports()
    house_port, shop_port, cable_port = next(free), next(free), next(free)
    house = House(
        tmp_path / "home",
        DIPLEDGER_DATABASE_URL=settings.database_url,
        DIPLEDGER_UNSAFE_DATABASE="yes",  # the test server trades safety for speed
        DIPLEDGER_SECRET_KEY=SECRET,
        DIPLEDGER_SIGNING_KEY_FILE=str(settings.signing_key_file),
        DIPLEDGER_WEBHOOK_ALLOW="127.0.0.1/32",
    )
    (tmp_path / "home").mkdir()
    serve = [sys.executable, "-m", "service", "serve", "--port", str(house_port)]
    nursery = Running(house_port, serve, dict(house.environment))
    nursery.start()
    hook = {"name": "the shop", "url": f"http://127.0.0.1:{shop_port}/events"}
    status, made = send(house_port, "POST", "/api/v1/webhooks", hook, api.tokens[Role.OWNER])
    assert status == 201, made
    cable = Cable(cable_port, house_port)
    environment = {
        **os.environ,
        "DIPLEDGER_API": f"http://127.0.0.1:{cable_port}/api/v1",
        "TOKEN": api.tokens[Role.SHOP],
        "WEBHOOK_SECRET": made["secret"],
    }
    command = [sys.executable, str(SHOP), "--shelf", str(tmp_path / "shelf.sqlite3"), "--every", "0.5"]
    shop = Running(shop_port, [*command, "--port", str(shop_port)], environment)
    buyers = [Buyer("ada", shop_port), Buyer("bob", shop_port)]
    try:
        shop.start()
        for buyer in buyers:
            buyer.start()
        _everything_goes_wrong(bench, buyers, shop, nursery, cable, first, second)
        for buyer in buyers:
            buyer.enough.set()
            buyer.join(PATIENCE_S)
            assert not buyer.is_alive()
        until(lambda: _agree(api, shop_port), "shelf and service agree")
        _hold(api, shop_port, buyers, {first: FIRST, second: SECOND})
    finally:
        cable.close()
        shop.kill()
        nursery.kill()


def _everything_goes_wrong(
    bench: Bench, buyers: list[Buyer], shop: Running, nursery: Running, cable: Cable, *lots: str
) -> None:
    def orders() -> list[Any]:
        return [order for buyer in buyers for order in list(buyer.settled.values())]

    def sold(least: int) -> None:
        until(lambda: len(orders()) >= least, f"{least} orders are settled")

    first, second = lots
    sold(3)
    shop.kill()
    shop.start()
    sold(5)
    cable.cut()
    time.sleep(1.5)
    cable.mend()
    sold(7)
    # The running worker may project the lot between our look and our decision: then it is looked at again.
    until(lambda: bench.clear(second).status_code == 201, "the second lot is cleared")
    nursery.kill()
    time.sleep(1)
    nursery.start()
    sold(10)
    cable.cut()
    bench.api.manager.made("/recalls", {"lot_id": first, "reason": "a snail in an order"})
    shop.kill()
    shop.start()
    cable.mend()
    sold(14)
    nursery.kill()
    nursery.start()
    until(
        lambda: {line["lot_id"] for order in orders() for line in order["lines"]} == {*lots}, "both lots sell"
    )
    until(lambda: any(order["state"] == "refused" for order in orders()), "all is sold")


def _agree(api: Api, port: int) -> bool:
    _, shown = ask(port, "/")
    rows = {(row["plant_id"], row["unit_of_sale"]): row["available"] for row in (shown or {}).get("rows", [])}
    there = api.owner.seen("/inventory")["rows"]
    same = {(row["plant_id"], row["unit_of_sale"]): row["available"] for row in there} == rows
    recalled = {row["lot_id"] for row in (shown or {}).get("recalled", [])}
    return same and recalled == _recalled(api)


def _recalled(api: Api) -> set[str]:
    found = api.owner.seen("/events?type=lot.recalled&limit=200")["items"]
    return {event["data"]["lot_id"] for event in found}


def _hold(api: Api, port: int, buyers: list[Buyer], lots: dict[str, int]) -> None:
    settled = {ref: order for buyer in buyers for ref, order in buyer.settled.items()}
    sent = {ref: order for ref, order in settled.items() if order["state"] == "sent"}
    dispatches = api.owner.seen("/dispatches?limit=200")["items"]
    # Each order that was sent went out once, as much as was asked for, or as much as the buyer was told when
    # a part was recalled between promise and parcel; one that was refused never.
    assert sorted(one["order_ref"] for one in dispatches) == sorted(sent)
    for one in dispatches:
        order = sent[one["order_ref"]]
        out_of_it = sum(line["quantity"] for line in one["lines"])
        told = f"{out_of_it} of {order['quantity']} were sent"
        assert out_of_it == order["quantity"] if order["why"] is None else order["why"].startswith(told)
    assert {order["state"] for order in settled.values()} == {"sent", "refused"}
    # Nothing was oversold, nothing is still promised.
    out = dict.fromkeys(lots, 0)
    for one in dispatches:
        for line in one["lines"]:
            out[line["lot_id"]] += line["quantity"]
    for lot, quantity in lots.items():
        assert 0 < out[lot] <= quantity
        assert api.owner.seen(f"/lots/{lot}")["quantity"]["left"] == quantity - out[lot]
    for status in ("open", "confirmed"):
        assert api.owner.seen(f"/reservations?status={status}")["items"] == []
    # Every recall was learnt, and whoever has plants of it is named.
    recalled = _recalled(api)
    assert recalled
    held = {
        one["order_ref"] for one in dispatches if any(line["lot_id"] in recalled for line in one["lines"])
    }
    assert set(ask(port, "/")[1]["to_tell"]) == held
    assert held
    assert sum(buyer.tries for buyer in buyers) > len(settled)  # something did go wrong
    assert api.auditor.seen("/audit/check")["intact"]
