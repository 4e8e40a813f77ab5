"""Orders on the pages: promised, paid, picked, sent off with the parcel's own certificates, or cancelled."""

from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

from sqlalchemy import event

from service.accounts.rules import Role
from service.core.db import Database
from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_people import Browser, a_person, shown_text

PROMISES = "/console/reservations"


def promised(owner: Browser, lot: str, quantity: int = 6, order: str = "W-5") -> dict[str, Any]:
    """Promise plants on the page; gives the reservation as the interface shows it."""
    owner.seen(PROMISES)
    sent = {"pick-0-lot": lot, "pick-0-quantity": str(quantity), "order_ref": order, "customer_ref": "c 5"}
    owner.done(PROMISES, sent)
    return {"text": shown_text(owner.page)}


@contextmanager
def counted(database: Database) -> Iterator[list[str]]:
    statements: list[str] = []

    def note(_connection: Any, _cursor: Any, statement: str, *_rest: Any) -> None:
        statements.append(statement)

    event.listen(database.engine, "before_cursor_execute", note)
    yield statements
    event.remove(database.engine, "before_cursor_execute", note)


def only(api: Api) -> Any:
    [found] = api.seller.seen("/reservations")["items"]
    return found


def test_what_is_promised_is_a_list_to_pick_by(owner: Browser, api: Api) -> None:
    bench = Bench(api)
    lot = bench.cleared_lot(20)
    told = promised(owner, lot)["text"]
    assert "To pick" in told
    assert "Q1" in told
    assert "6 pots" in " ".join(told.split())
    assert bench.see(lot)["quantity"]["reserved"] == 6
    assert "W-5" in owner.seen(PROMISES)


def test_the_list_to_pick_by_asks_as_often_however_many_lots_it_has(
    owner: Browser, api: Api, database: Database
) -> None:
    bench = Bench(api)
    lots = [
        bench.cleared_lot(20),
        bench.cleared_lot(20, bench.tub("Q2")),
        bench.cleared_lot(20, bench.tub("Q3")),
    ]

    def asked(order: str, picked: list[str]) -> int:
        lines = [{"lot_id": lot, "quantity": 2} for lot in picked]
        made = api.shop.made("/reservations", {"order_ref": order, "customer_ref": "c 5", "lines": lines})
        with counted(database) as statements:
            page = owner.seen(f"{PROMISES}/{made['id']}")
        assert all(bench.see(lot)["code"] in page for lot in picked)
        return len(statements)

    assert asked("W-6", lots[:1]) == asked("W-7", lots)


def test_more_than_there_is_is_not_promised(owner: Browser, api: Api) -> None:
    lot = Bench(api).cleared_lot(20)
    owner.seen(PROMISES)
    sent = {"pick-0-lot": lot, "pick-0-quantity": "21", "order_ref": "W-5"}
    assert owner.refused(PROMISES, sent) != []
    assert 'value="W-5"' in owner.page
    assert api.seller.seen("/reservations")["items"] == []


def test_it_is_paid_sent_off_and_its_parcel_certified(owner: Browser, api: Api) -> None:
    bench = Bench(api)
    lot = bench.cleared_lot(20)
    promised(owner, lot)
    path = f"{PROMISES}/{only(api)['id']}"
    assert "paid" in owner.done(f"{path}/confirm")
    page = owner.done(f"{path}/send", {"packed": "yes"})
    assert "Last glance by Ines" in shown_text(page)
    assert only(api)["status"] == "fulfilled"
    [sent] = api.seller.seen("/dispatches")["items"]
    owner.done(f"/console/dispatches/{sent['id']}/certify", {"order": "W-5"})
    [certificate] = api.seller.seen(f"/dispatches/{sent['id']}/certificates")["items"]
    assert certificate["quantity"] == 6
    assert certificate["serial"] in owner.page
    assert "not an official plant-health document" in owner.page
    assert "Nothing is owed any more." in shown_text(owner.seen(path))
    assert "W-5" in owner.seen(f"{PROMISES}?status=fulfilled")


def test_a_cancelled_order_gives_its_plants_back(owner: Browser, api: Api) -> None:
    bench = Bench(api)
    lot = bench.cleared_lot(20)
    promised(owner, lot)
    path = f"{PROMISES}/{only(api)['id']}"
    owner.done(f"{path}/cancel")
    assert bench.see(lot)["quantity"]["reserved"] == 0
    owner.seen("/console/account")
    assert "This reservation is cancelled." in owner.refused(f"{path}/confirm")[0]


def test_a_parcel_that_is_not_there_is_a_page_too(owner: Browser) -> None:
    nothing = "00000000-0000-7000-8000-000000000000"
    assert owner.open(f"/console/dispatches/{nothing}?order=W-5").status_code == 404
    assert "Nothing of the kind." in owner.seen(PROMISES)


def test_an_auditor_sees_orders_and_can_do_nothing(api: Api, database: Database, browser: Browser) -> None:
    lot = Bench(api).cleared_lot(20)
    line = {"lot_id": lot, "quantity": 3}
    made = api.seller.made("/reservations", {"order_ref": "W-7", "lines": [line]})
    a_person(database, "Ada", Role.AUDITOR)
    browser.sign_in("Ada")
    page = browser.seen(f"{PROMISES}/{made['id']}")
    assert "Cancel it" not in page
    browser.seen("/console/account")
    assert "The role auditor may not do this." in browser.refused(f"{PROMISES}/{made['id']}/cancel")[0]
