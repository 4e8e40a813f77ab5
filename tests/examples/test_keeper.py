"""An order of the sample shop is carried out once, whichever answer on its way was lost."""

import importlib
from contextlib import suppress
from pathlib import Path
from types import ModuleType
from typing import Any
from uuid import uuid4

import pytest

from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_sales import named

FOLDER = Path(__file__).parents[2] / "examples" / "shop"


@pytest.fixture
def keeper(monkeypatch: pytest.MonkeyPatch) -> ModuleType:
    monkeypatch.syspath_prepend(str(FOLDER))
    return importlib.import_module("keeper")


class Losing:
    """A nursery that does what it is asked for, and loses its first answer to these acts on the way back."""

    def __init__(self, api: Api, away: type[Exception], *lost: str) -> None:
        self._api, self._away, self._lost = api, away, set(lost)

    def get(self, path: str) -> tuple[int, Any]:
        answer = self._api.shop.get(path)
        return answer.status_code, answer.get_json()

    def post(self, path: str, body: Any, key: str) -> tuple[int, Any]:
        answer = self._api.shop.post(path, body, Idempotency_Key=key)
        if path in self._lost:
            self._lost.remove(path)
            raise self._away("the answer was lost")
        return answer.status_code, answer.get_json()


def carried(api: Api, keeper: ModuleType, shelf: Any, *lost: str) -> Any:
    nursery = Losing(api, keeper.Away, *lost)
    shelf.ask("W-1", "AN-P", 3)
    while shelf.owed():
        with suppress(keeper.Away):
            keeper.carry(nursery, shelf, "W-1")
    return shelf.order("W-1")


@pytest.fixture
def shelf(keeper: ModuleType, api: Api, tmp_path: Path) -> Any:
    bench = Bench(api)
    bench.cleared_lot(20)
    named(bench, "AN-P")
    return keeper.Shelf(tmp_path / "shelf.sqlite3")


PROMISE, SEND = "/reservations", "/dispatches"


@pytest.mark.parametrize(
    "lost", [(), (PROMISE,), (SEND,), (PROMISE, SEND)], ids=["none", "1st", "2nd", "both"]
)
def test_a_lost_answer_is_asked_for_again_and_the_order_goes_out_once(
    api: Api, keeper: ModuleType, shelf: Any, lost: tuple[str, ...]
) -> None:
    order = carried(api, keeper, shelf, *lost)
    [dispatch] = api.owner.seen("/dispatches")["items"]
    assert (order["state"], order["lines"]) == ("sent", dispatch["lines"])
    keeper.learn(Losing(api, keeper.Away), shelf)
    assert [row["available"] for row in shelf.shown()["rows"]] == [17]


@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
def test_with_a_new_key_for_each_try_shop_and_nursery_would_not_agree(
    api: Api, keeper: ModuleType, shelf: Any, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(keeper, "key", lambda *_: str(uuid4()))
    order = carried(api, keeper, shelf, SEND)
    assert (order["state"], len(api.owner.seen("/dispatches")["items"])) == ("refused", 1)


@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
def test_the_shelf_reads_the_whole_when_the_nursery_forgot_its_place(
    api: Api, keeper: ModuleType, shelf: Any
) -> None:
    nursery = Losing(api, keeper.Away)
    keeper.learn(nursery, shelf)
    shelf.take_rows([], "999999999-9999999", 0.0, whole=True)
    keeper.learn(nursery, shelf)
    assert [row["available"] for row in shelf.shown()["rows"]] == [20]


class Recalling(Losing):
    """A nursery that recalls a lot between the promise of an order and its parcel."""

    def __init__(self, api: Api, away: type[Exception], lot: str) -> None:
        super().__init__(api, away)
        self._lot = lot

    def post(self, path: str, body: Any, key: str) -> tuple[int, Any]:
        if path == SEND:
            self._api.manager.made("/recalls", {"lot_id": self._lot, "reason": "a snail in an order"})
        return super().post(path, body, key)


@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
def test_a_buyer_is_told_when_a_part_was_recalled_between_promise_and_parcel(
    api: Api, keeper: ModuleType, tmp_path: Path
) -> None:
    bench, shelf = Bench(api), keeper.Shelf(tmp_path / "shelf.sqlite3")
    small, large = (bench.cleared_lot(units, bench.tub(code)) for units, code in ((2, "Q1"), (20, "Q2")))
    named(bench, "AN-P")
    shelf.ask("W-1", "AN-P", 3)  # the lot cleared first gives first: two of it and one of the other
    keeper.carry(Recalling(api, keeper.Away, large), shelf, "W-1")
    order = shelf.order("W-1")
    assert [(line["lot_id"], line["quantity"]) for line in order["lines"]] == [(small, 2)]
    assert order["state"] == "sent"
    assert order["why"].startswith("2 of 3 were sent")
