"""R5: as many units are sold as there are, however many ask at once; and R7: a decision is made once."""

from collections import Counter

import pytest
from flask import Flask

from service.core.settings import Settings
from tests.api import Contract
from tests.journeys.bench import Bench
from tests.promises.naive import at_once, naive_house
from tests.soak import figure

UNITS, ASKING, AT_ONCE = figure(gate=10, full=100), figure(gate=24, full=240), figure(gate=8, full=16)
ROUNDS = figure(gate=1, full=20)


def sold(bench: Bench, lot: str) -> tuple[Counter[int], int]:
    """All ask for one unit each, so many at once: how they were answered, and what is left."""
    body = {"order_ref": "W-1", "customer_ref": None, "lines": [{"lot_id": lot, "quantity": 1}]}

    def ask() -> list[int]:
        return [bench.api.shop.post("/dispatches", body).status_code for _ in range(ASKING // AT_ONCE)]

    statuses = Counter(status for each in at_once([ask] * AT_ONCE) for status in each)
    return statuses, bench.see(lot)["quantity"]["left"]


@pytest.mark.promise(r=5)
@pytest.mark.soak
def test_as_many_units_are_sold_as_there_are(bench: Bench) -> None:
    for n in range(ROUNDS):
        lot = bench.cleared_lot(UNITS, bench.tub(f"Q{n}"))
        assert sold(bench, lot) == (Counter({201: UNITS, 409: ASKING - UNITS}), 0)


@pytest.mark.promise(r=5)
def test_without_locks_more_would_be_sold(
    bench: Bench, served: tuple[Flask, Contract], settings: Settings
) -> None:
    lot = bench.cleared_lot(UNITS)
    with naive_house(served[0], settings):
        statuses, _ = sold(bench, lot)
    assert statuses[201] > UNITS
