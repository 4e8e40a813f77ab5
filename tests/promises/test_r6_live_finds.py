"""R6: no lot ends cleared with a live find in its water, whatever happens at the same moment; R7: once."""

from collections import Counter
from collections.abc import Iterator
from functools import partial
from typing import Any

import pytest
from flask import Flask
from werkzeug.test import TestResponse

from service.core.settings import Settings
from tests.api import Contract
from tests.journeys.bench import Bench
from tests.make_clearance import ready
from tests.make_quarantine import ADULT, moved, quarantined
from tests.promises.naive import at_once, naive_house
from tests.soak import figure

ROUNDS = figure(gate=2, full=100)
AT_ONCE = figure(gate=6, full=16)


class Water:
    """A lot that only waits for the decision, and a neighbour in its water."""

    def __init__(self, bench: Bench) -> None:
        self.bench = bench
        self.tub = bench.tub("Q1")
        bench.logger(self.tub, 0, bench.age, 24)
        self.neighbour = quarantined(bench, self.tub)
        self.lot = ready(bench, self.tub, share_water=True)

    def clear(self) -> TestResponse:
        answer: TestResponse = self.bench.clear(self.lot)
        return answer

    def sell(self) -> TestResponse:
        line = {"lot_id": self.lot, "quantity": 1}
        return self.bench.api.shop.post("/dispatches", {"order_ref": "W-1", "lines": [line]})

    def find(self) -> TestResponse:
        body = {"lot_id": self.neighbour, "sample_size": 20, "findings": [ADULT]}
        return self.bench.api.grower.post("/inspections", body)

    def share(self, other: str) -> TestResponse:
        """Another lot comes into its water; the lot was brought into a fresh tub the day before."""
        body = {"tub_id": self.bench.see(self.lot)["tub_id"], "share_water": True}
        return self.bench.api.grower.post(f"/lots/{other}/moves", body)

    def raced(self, fact: Any) -> bool:
        """The fact, the decision and a sale at once: whether the lot ended as if there had been no fact."""
        told, _, sold = at_once([fact, self.clear, self.sell])
        assert told.status_code in {200, 201}, told.get_json()
        ended = self.bench.see(self.lot)
        history = self.bench.api.auditor.seen(f"/lots/{self.lot}/history?limit=200")["items"]
        untold = sold.status_code == 201 and history[-1]["kind"] != "lot.customers_to_tell"
        return ended["state"] == "cleared" or ended["certificate_serial"] is not None or untold

    def taken_back(self, looked: TestResponse) -> None:
        path = f"/inspections/{looked.get_json()['id']}/void"
        self.bench.api.manager.made(path, {"reason": "next round"})


def rounds(water: Water, many: int) -> Iterator[bool]:
    """Finds in the neighbour, each voided again: whether they were passed over."""
    for _ in range(many):
        looked: list[TestResponse] = []

        def find(looked: list[TestResponse] = looked) -> TestResponse:
            looked.append(water.find())
            return looked[0]

        ended = water.raced(find)
        water.taken_back(looked[0])
        yield ended


@pytest.mark.promise(r=6)
@pytest.mark.soak
def test_no_lot_ends_cleared_when_a_find_or_strange_water_comes_at_the_same_moment(
    bench: Bench, served: tuple[Flask, Contract], settings: Settings
) -> None:
    water = Water(bench)
    with naive_house(served[0], settings):
        assert any(rounds(water, 12))  # without locks the lot is cleared in spite of the find
    assert not any(rounds(water, ROUNDS))
    fresh, last = bench.tub("Q2"), bench.age - 1
    bench.logger(fresh, last, bench.age, 24)
    moved(bench, water.lot, fresh, last)
    stranger = quarantined(bench, bench.tub("Q3"), day=last)
    assert not water.raced(partial(water.share, stranger))
    assert bench.api.auditor.seen("/audit/check")["intact"]


def decided(water: Water) -> tuple[Counter[int], list[str]]:
    """So many decide on what they saw at once: how they were answered, and what becomes of certificates."""
    tag = water.bench.api.manager.get(f"/lots/{water.lot}").headers["ETag"]

    def decide() -> int:
        answer = water.bench.api.manager.post(f"/lots/{water.lot}/clearance", {}, If_Match=tag)
        return answer.status_code

    statuses = Counter(at_once([decide] * AT_ONCE))
    kept = water.bench.api.auditor.seen(f"/lots/{water.lot}/certificates")["items"]
    water.taken_back(water.find())
    return statuses, [found["status"] for found in kept if found["status"] == "valid"]


@pytest.mark.promise(r=7)
@pytest.mark.soak
def test_however_many_decide_there_is_one_decision_and_one_certificate(
    bench: Bench, served: tuple[Flask, Contract], settings: Settings
) -> None:
    water = Water(bench)
    with naive_house(served[0], settings):
        # Without locks a constraint of the database breaks, sooner or later.
        assert any(500 in decided(water)[0] for _ in range(6))
    for _ in range(figure(gate=2, full=100)):
        statuses, valid = decided(water)
        assert (statuses[201], valid) == (1, ["valid"])
        assert statuses.keys() <= {201, 409, 412, 503}
