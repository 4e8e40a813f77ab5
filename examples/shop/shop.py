"""A small shop that sells what a nursery with Dipledger has cleared. Standard library alone.

    DIPLEDGER_API=http://127.0.0.1:8000/api/v1 TOKEN=... python shop.py --shelf shelf.sqlite3 --port 8080

GET  /            the shelf, what was recalled, and whom to tell
POST /orders      {"ref": "W-17", "sku": "AN-P", "quantity": 2}: 200 settled, 202 not yet (ask again)
GET  /orders/W-17 what became of it
POST /events      where the nursery's webhook may point: it only wakes the shop, which then reads
"""

import argparse
import base64
import hashlib
import hmac
import json
import os
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import keeper
from nursery import Away, Nursery
from shelf import Shelf

MOST_BYTES = 64 * 1024


class Shop:
    """The shelf, the service behind it, and a thread that never stops comparing the two."""

    def __init__(self, shelf: Shelf, nursery: Nursery, every_s: float, secret: str) -> None:
        self.shelf, self.nursery, self._every_s = shelf, nursery, every_s
        self._secret = base64.b64decode(secret.removeprefix("whsec_"))
        self.wake = threading.Event()
        self.locks: dict[str, threading.Lock] = {}
        self._guard = threading.Lock()

    def keep(self) -> None:
        """Learn what changed and carry orders on, for ever; when nobody answers, try again."""
        while True:
            try:
                keeper.learn(self.nursery, self.shelf)
                for ref in self.shelf.owed():
                    self.carry(ref)
            except Away as reason:
                print(f"away: {reason}", flush=True)
            self.wake.wait(self._every_s)
            self.wake.clear()

    def carry(self, ref: str) -> None:
        """Carry one order on; two threads never carry the same. Raises Away."""
        with self._guard:
            lock = self.locks.setdefault(ref, threading.Lock())
        with lock:
            keeper.carry(self.nursery, self.shelf, ref)

    def genuine(self, headers: Any, body: bytes) -> bool:
        """Whether the nursery's webhook sent this, a moment ago (Standard Webhooks)."""
        stamp, given = headers.get("webhook-timestamp", ""), headers.get("webhook-signature", "")
        if not self._secret or not stamp.isdigit() or abs(time.time() - int(stamp)) > 300:
            return False
        signed = f"{headers.get('webhook-id', '')}.{stamp}.".encode() + body
        wanted = base64.b64encode(hmac.digest(self._secret, signed, hashlib.sha256)).decode()
        return any(hmac.compare_digest(text, f"v1,{wanted}") for text in given.split())


class Door(BaseHTTPRequestHandler):
    """What buyers and the webhook speak to."""

    shop: Shop

    def do_GET(self) -> None:  # the name that the standard library calls
        """Show the shelf or an order."""
        if self.path == "/":
            return self._say(200, self.shop.shelf.shown())
        try:
            return self._say(200, self.shop.shelf.order(self.path.removeprefix("/orders/")))
        except KeyError:
            return self._say(404, {"detail": "There is no such order."})

    def do_POST(self) -> None:  # as above
        """Take an order, or be woken."""
        body = self.rfile.read(min(int(self.headers.get("Content-Length", 0)), MOST_BYTES))
        if self.path == "/events":
            if not self.shop.genuine(self.headers, body):
                return self._say(401, {"detail": "The signature is not the nursery's."})
            self.shop.wake.set()
            return self._say(202, {})
        try:
            asked = json.loads(body)
            ref, sku, quantity = str(asked["ref"]), str(asked["sku"]), int(asked["quantity"])
        except (ValueError, KeyError, TypeError):
            return self._say(422, {"detail": "An order has ref, sku and quantity."})
        if quantity < 1:
            return self._say(422, {"detail": "One at least."})
        order = self.shop.shelf.ask(ref, sku, quantity)
        if (order["sku"], order["quantity"]) != (sku, quantity):
            return self._say(409, {"detail": "This reference is of another order."})
        try:
            self.shop.carry(ref)
        except Away:
            self.shop.wake.set()
        order = self.shop.shelf.order(ref)
        return self._say(200 if order["state"] in {"sent", "refused"} else 202, order)

    def _say(self, status: int, body: Any) -> None:
        content = json.dumps(body).encode()
        self.send_response(status)
        self.send_header("Content-Type", "application/json")
        self.send_header("Content-Length", str(len(content)))
        self.end_headers()
        self.wfile.write(content)

    def log_message(self, *_: Any) -> None:
        """Say nothing of each request."""


def main() -> None:
    """Run the shop until it is stopped."""
    asked = argparse.ArgumentParser(description="A small shop on top of a nursery with Dipledger.")
    asked.add_argument("--shelf", type=Path, default=Path("shelf.sqlite3"))
    asked.add_argument("--port", type=int, default=8080)
    asked.add_argument("--every", type=float, default=5, help="seconds between two looks at the nursery")
    given = asked.parse_args()
    service = Nursery(os.environ["DIPLEDGER_API"], os.environ["TOKEN"])
    Door.shop = Shop(Shelf(given.shelf), service, given.every, os.environ.get("WEBHOOK_SECRET", ""))
    threading.Thread(target=Door.shop.keep, daemon=True).start()
    ThreadingHTTPServer(("127.0.0.1", given.port), Door).serve_forever()


if __name__ == "__main__":
    main()
