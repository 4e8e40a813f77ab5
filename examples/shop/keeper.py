"""What the shop does by itself: reads what changed, and carries every order to its end."""

import time
import uuid
from typing import Any

from nursery import Away, Nursery
from shelf import Shelf

NAMESPACE = uuid.UUID("7e0c1d0a-52f1-5f0a-9d2b-6f5f0c8f4b11")  # of the keys of this shop
MOST_PAGES = 1000


def learn(nursery: Nursery, shelf: Shelf) -> None:
    """Read the events, then the inventory, each from where it was read to. Raises Away.

    Events first: a recall must be known however long the inventory takes.
    """
    for _ in range(MOST_PAGES):
        status, page = nursery.get(f"/events?limit=200&after={shelf.place('events') or '0'}")
        if status != 200:
            raise Away(f"events: {status}")
        shelf.take_events(page["items"], page["after"], time.time())
        if page["next"] is None:
            break
    after = shelf.place("inventory")
    status, answer = nursery.get("/inventory" if after is None else f"/inventory?after={after}")
    if status == 422:  # a house put back from a backup does not know our place
        after = None
        status, answer = nursery.get("/inventory")
    if status != 200:
        raise Away(f"inventory: {status}")
    shelf.take_rows(answer["rows"], answer["after"], time.time(), whole=after is None)


def carry(nursery: Nursery, shelf: Shelf, ref: str) -> None:
    """Bring an order one step on, and the next: promised, then sent; or refused. Raises Away.

    The key of each step is made of the order's reference: a step that was taken before the shop or the
    network died answers again what it answered then.
    """
    order = shelf.order(ref)
    if order["state"] == "asked":
        line = {"sku": order["sku"], "quantity": order["quantity"]}
        status, answer = nursery.post(
            "/reservations", {"order_ref": ref, "lines": [line]}, key(ref, "promise")
        )
        if status not in {200, 201}:
            shelf.settle(ref, "refused", why=said(answer))
            return
        shelf.settle(ref, "promised", reservation_id=answer["id"])
        order = shelf.order(ref)
    if order["state"] == "promised":
        body = {"order_ref": ref, "reservation_id": order["reservation_id"]}
        status, answer = nursery.post("/dispatches", body, key(ref, "send"))
        if status in {200, 201}:
            shelf.settle(ref, "sent", lines=answer["lines"], why=missing(order["quantity"], answer["lines"]))
        else:  # recalled, held or run out in between: the service freed it
            shelf.settle(ref, "refused", why=said(answer))


def missing(asked: int, lines: list[dict[str, Any]]) -> str | None:
    """What the buyer is told when one of the lots of his order was recalled between promise and parcel."""
    sent = sum(line["quantity"] for line in lines)
    return None if sent == asked else f"{sent} of {asked} were sent; the others are for sale no more."


def key(ref: str, step: str) -> str:
    """The Idempotency-Key of a step of an order."""
    return str(uuid.uuid5(NAMESPACE, f"{step}/{ref}"))


def said(answer: Any) -> str:
    """Why something was refused, as the service says it (RFC 9457)."""
    return str(answer.get("detail") or answer.get("title") or answer)
