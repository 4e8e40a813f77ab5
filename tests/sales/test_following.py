"""Who only follows what changes of the inventory has the same shelf as who reads the whole of it."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import select, update

from service.core.clock import utc_now
from service.core.db import Database
from service.core.jobs import OwedJob
from service.lots.models import Lot
from service.sales.models import Reservation
from tests.journeys.bench import Bench
from tests.make_quarantine import coming, work_done
from tests.make_sales import named, of_plant, order, reserved

Shelf = dict[tuple[str, str], Any]


def shown(rows: list[Any]) -> Shelf:
    """Rows by plant and unit, without those of which there is nothing and no name."""
    return {
        (row["plant_id"], row["unit_of_sale"]): row
        for row in rows
        if row["sku"] or row["cleared"] or row["next"]
    }


@dataclass
class Shop:
    """A shop that read everything once, and then only what changed."""

    bench: Bench
    shelf: Shelf = field(init=False)
    after: str = field(init=False)

    def __post_init__(self) -> None:
        whole = self.whole()
        self.shelf, self.after = shown(whole["rows"]), whole["after"]

    def whole(self) -> Any:
        return self.bench.api.shop.seen("/inventory")

    def follow(self) -> list[Any]:
        told = self.bench.api.shop.seen(f"/inventory?after={self.after}")
        for row in told["rows"]:
            self.shelf.pop((row["plant_id"], row["unit_of_sale"]), None)
        self.shelf |= shown(told["rows"])
        self.after = told["after"]
        return list(told["rows"])


def test_a_sale_is_told_once_and_silence_is_empty(bench: Bench) -> None:
    bench.cleared_lot(20)
    lot = bench.cleared_lot(10, bench.tub("Q2"), "cryptocoryne-wendtii")
    shop = Shop(bench)
    bench.api.shop.made("/dispatches", order(lot, 4))
    [row] = shop.follow()
    assert (row["scientific_name"], row["available"]) == ("Cryptocoryne wendtii", 6)
    assert shop.follow() == []
    bench.api.grower.made("/suppliers", {"name": "Aldermoor Plants", "country": "PT"})
    assert shop.follow() == []


def test_a_lot_that_nobody_looked_at_leaves_the_shelf_without_an_event(
    bench: Bench, database: Database
) -> None:
    lot = bench.cleared_lot(20)
    shop = Shop(bench)
    lapse(database, lot)
    [row] = shop.follow()
    assert (row["cleared"], row["available"], shop.shelf) == (0, 0, {})


def test_a_day_of_release_that_moved_with_the_water_is_told_without_an_event(
    bench: Bench, database: Database
) -> None:
    tub = bench.tub("Q1")
    coming(bench, tub, 30)
    bench.logger(tub, 30, 45, 24)
    work_done(database)
    shop = Shop(bench)
    [before] = shop.shelf.values()
    bench.logger(tub, 45.05, 50, 12)
    shop.follow()
    work_done(database)
    [row] = shop.follow()
    assert row["next"][0]["on"] > before["next"][0]["on"]
    assert shop.shelf == shown(shop.whole()["rows"])


@pytest.mark.parametrize("place", ["0", "x-1", "99999-0", "0-9999999999999999", "", "1-2-3"])
def test_a_place_that_no_answer_gave_is_refused(bench: Bench, place: str) -> None:
    assert bench.api.shop.get(f"/inventory?after={place}").status_code == 422


def lapse(database: Database, lot: str) -> None:
    """What time does: the last look of a lot is too old from this moment on."""
    with database.writing() as session:
        session.execute(update(Lot).where(Lot.id == lot).values(good_until=utc_now()))


@dataclass
class House:
    """A nursery that goes on working, in which things happen that a shop must learn of."""

    bench: Bench
    database: Database
    lots: list[str]
    tub: str
    n: int = 0

    def reserve(self) -> None:
        self.bench.api.shop.post(
            "/reservations", of_plant(self.bench, self.lots[0], 2, order_ref=self._ref())
        )

    def cancel(self) -> None:
        for made in self.bench.api.shop.seen("/reservations?status=open&limit=1")["items"]:
            self.bench.api.shop.send("DELETE", f"/reservations/{made['id']}", None)

    def run_out(self) -> None:
        reserved(self.bench, self.lots[1], 1, order_ref=self._ref())
        with self.database.writing() as session:
            session.execute(
                update(Reservation).where(Reservation.status == "open").values(expires_at=utc_now())
            )
            session.execute(update(OwedJob).values(due_at=utc_now() - timedelta(seconds=1)))
        work_done(self.database)

    def sell(self) -> None:
        self.bench.api.shop.post("/dispatches", order(self.lots[0], 1, order_ref=self._ref()))

    def lose(self) -> None:
        self.bench.api.grower.post(f"/lots/{self.lots[1]}/losses", {"quantity": 1, "cause": "melt"})

    def hold(self) -> None:
        self.bench.api.grower.made(f"/lots/{self.lots[0]}/holds", {"cause": "look", "reason": "a shell?"})

    def lift(self) -> None:
        self.bench.lift(self.lots[0])

    def wait_too_long(self) -> None:
        with self.database.writing() as session:
            good = session.scalars(
                select(Lot.id)
                .where(Lot.state == "cleared", Lot.good_until > utc_now())
                .order_by(Lot.id.desc())
            ).first()
        if good is not None:
            lapse(self.database, good)

    def warm(self) -> None:
        self.n += 1
        reading = {"at": self.bench.when(45 + self.n / 100)["at"], "value": 20 + self.n % 8, "unit": "Cel"}
        late = {"late_reason": "read from the logger"}
        self.bench.api.grower.made(f"/tubs/{self.tub}/temperatures", {"readings": [reading], **late})
        work_done(self.database)

    def come(self) -> None:
        coming(self.bench, self.bench.tub(self._ref()), 40, 3)
        work_done(self.database)

    def rename(self) -> None:
        [item] = self.bench.api.shop.seen("/sales-items?limit=1")["items"]
        path, sku = f"/sales-items/{item['id']}", self._ref()
        tag = self.bench.api.seller.get(path).headers["ETag"]
        assert (
            self.bench.api.seller.send("PATCH", path, {"sku": sku}, headers={"If-Match": tag}).status_code
            == 200
        )

    def _ref(self) -> str:
        self.n += 1
        return f"W-{self.n}"


ACTS: dict[str, Callable[[House], None]] = {
    name: act for name, act in vars(House).items() if callable(act) and not name.startswith("_")
}


def test_a_shop_that_only_follows_has_the_shelf_of_a_full_read(bench: Bench, database: Database) -> None:
    """Whatever happens in whatever order, and however much of it between two looks of the shop."""
    lots = [
        bench.cleared_lot(60),
        bench.cleared_lot(60, bench.tub("Q2")),
        bench.cleared_lot(10, bench.tub("Q3"), "cryptocoryne-wendtii"),
    ]
    named(bench, "AN-P")
    tub = bench.tub("Q4")
    coming(bench, tub, 30)
    bench.logger(tub, 30, 45, 22)
    work_done(database)
    house, shop, done = House(bench, database, lots, tub), Shop(bench), set()

    @settings(max_examples=12, suppress_health_check=list(HealthCheck))
    @given(st.lists(st.sampled_from(sorted(ACTS)), min_size=1, max_size=3))
    def live_on(acts: list[str]) -> None:
        for name in acts:
            ACTS[name](house)
            done.add(name)
        shop.follow()
        assert shop.shelf == shown(shop.whole()["rows"]), acts

    live_on()
    for name in sorted(set(ACTS) - done):
        ACTS[name](house)
        shop.follow()
        assert shop.shelf == shown(shop.whole()["rows"]), name
