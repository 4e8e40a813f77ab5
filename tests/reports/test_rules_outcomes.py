"""What became of ordinary lots, from facts alone."""

from datetime import date
from typing import Any

import pytest

from service.reports.rules_outcomes import Lived, Outcome, OutcomesBy, month_of, outcomes


def lot(**changes: Any) -> Lived:
    known: dict[str, Any] = {
        "lot_id": "l",
        "plant": "Anubias barteri",
        "supplier": "Fenmarsh Growers",
        "month": "2026-03",
        "protocols": ("alum-soak/1",),
        "pests": frozenset(),
        "live_after": frozenset(),
        "infested_on_arrival": False,
        "days_to_release": 30.0,
        "units": 10,
        "lost": {},
        "cost_micro": 2_000_000,
        "currency": "EUR",
    }
    return Lived(**{**known, **changes})


def only(lots: list[Lived], by: OutcomesBy = OutcomesBy.PROTOCOL) -> Outcome:
    [found] = outcomes(lots, by)
    return found


def test_below_ten_lots_counts_are_told_and_no_share() -> None:
    found = only([lot(), lot(live_after=frozenset({"hydra"}))])
    assert (found.live_after.count, found.live_after.of, found.live_after.share) == (1, 2, None)


def test_from_ten_lots_on_the_share_has_its_limits() -> None:
    found = only([lot() for _ in range(20)])
    # Wilson for none of 20: 0 to 0.161 (Newcombe 1998, table I).
    assert found.live_after.share is not None
    assert found.live_after.share.high == pytest.approx(0.1611, abs=1e-4)


def test_lots_that_nobody_looked_at_again_prove_nothing() -> None:
    found = only([lot(live_after=None), lot()])
    assert (found.live_after.of, found.not_looked_at) == (1, 1)


def test_a_lot_counts_under_each_of_its_protocols_and_pests() -> None:
    lots = [lot(protocols=("alum-soak/1", "bleach-dip/1"), pests=frozenset({"hydra", "planarian"}))]
    assert [one.key for one in outcomes(lots, OutcomesBy.PROTOCOL)] == ["alum-soak/1", "bleach-dip/1"]
    assert [one.key for one in outcomes(lots, OutcomesBy.PEST)] == ["hydra", "planarian"]
    for by in (OutcomesBy.PLANT, OutcomesBy.SUPPLIER, OutcomesBy.MONTH):
        assert len(outcomes(lots, by)) == 1
    assert outcomes([lot(protocols=())], OutcomesBy.PROTOCOL) == []


def test_by_pest_a_find_after_treatment_is_one_of_that_pest() -> None:
    lots = [lot(pests=frozenset({"hydra", "planarian"}), live_after=frozenset({"hydra"}))]
    hydra, planarian = outcomes(lots, OutcomesBy.PEST)
    assert (hydra.live_after.count, planarian.live_after.count) == (1, 0)


def test_days_to_release_are_a_median_with_limits_from_six_lots_on() -> None:
    found = only([lot(days_to_release=days) for days in (20.0, 24.0, 31.0, 40.0, 22.0, 26.0, None)])
    assert (found.released, found.median_days) == (6, 25.0)
    assert found.days_to_release is not None
    assert (found.days_to_release.low, found.days_to_release.high) == (20, 40)
    none = only([lot(days_to_release=None)])
    assert (none.released, none.median_days, none.days_to_release) == (0, None, None)


def test_losses_are_told_by_cause_and_lots_that_differ_make_the_share_less_sure() -> None:
    even = only([lot(lost={"melt": 1}) for _ in range(10)])
    odd = only([lot(lost={"melt": 10} if n == 0 else {}) for n in range(10)])
    assert even.lost == odd.lost == {"melt": 10}
    assert even.lost_share is not None
    assert odd.lost_share is not None
    assert even.lost_share.estimate == pytest.approx(0.1)
    assert odd.lost_share.estimate == pytest.approx(0.1)
    assert odd.lost_share.high > even.lost_share.high
    assert only([lot()]).lost_share is None


def test_cost_is_what_was_spent_over_the_units_that_were_cleared() -> None:
    # 3 x 2.00 over 9 + 10 cleared units; the third lot cost as much and gave none.
    found = only([lot(lost={"melt": 1}), lot(), lot(days_to_release=None)])
    assert found.cost_per_cleared_unit == pytest.approx(6 / 19)
    assert found.cost_limits is not None
    assert found.currency == "EUR"


@pytest.mark.parametrize(
    "lots",
    [
        [lot(cost_micro=None, currency=None)],
        [lot(), lot(currency="USD")],
        [lot(cost_micro=0, currency=None)],
        [lot(days_to_release=None)],
    ],
)
def test_an_unknown_cost_is_not_made_up(lots: list[Lived]) -> None:
    assert only(lots).cost_per_cleared_unit is None


def test_months_are_named_as_people_write_them_in_files() -> None:
    assert month_of(date(2026, 3, 31)) == "2026-03"
