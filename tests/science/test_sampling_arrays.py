"""Plans for a whole nursery at once: the same as lot by lot, in shape and number."""

from collections.abc import Callable
from decimal import Decimal

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.science.domain import OutOfDomain
from service.science.sampling import miss_probability, sample_size
from service.science.sampling_arrays import UNREACHABLE, miss_probabilities, sample_sizes

C95 = Decimal("0.95")
LOT = st.integers(1, 250).flatmap(
    lambda lot_size: st.tuples(
        st.just(lot_size),
        st.integers(1, lot_size),
        st.integers(0, lot_size),
        st.one_of(st.just(1.0), st.floats(0.01, 1.0)),
    )
)
LOTS = st.lists(LOT, min_size=1, max_size=20)


@given(LOTS)
def test_every_chance_is_that_of_the_lot_alone(lots: list[tuple[int, int, int, float]]) -> None:
    found = miss_probabilities(*(np.array(column) for column in zip(*lots, strict=True)))
    assert found.dtype == np.float64
    assert found.shape == (len(lots),)
    expected = [miss_probability(*lot) for lot in lots]
    assert found == pytest.approx(expected, rel=1e-10, abs=1e-300)


@given(LOTS, st.decimals("0.01", "0.999", places=3))
def test_every_size_is_that_of_the_lot_alone(
    lots: list[tuple[int, int, int, float]], confidence: Decimal
) -> None:
    totals, infested, _, eyes = (np.array(column) for column in zip(*lots, strict=True))
    found = sample_sizes(totals, infested, confidence, eyes)
    assert found.dtype == np.int64
    expected = [sample_size(total, marked, confidence, sees) for total, marked, _, sees in lots]
    assert found.tolist() == [UNREACHABLE if size is None else size for size in expected]


@settings(max_examples=10)
@given(st.lists(st.tuples(st.integers(10**4, 10**7), st.integers(1, 300)), min_size=1, max_size=6))
def test_very_large_lots_are_planned_alike(lots: list[tuple[int, int]]) -> None:
    totals, infested = (np.array(column) for column in zip(*lots, strict=True))
    for sensitivity in (1.0, 0.8):
        found = sample_sizes(totals, infested, C95, sensitivity)
        expected = [sample_size(total, marked, C95, sensitivity) for total, marked in lots]
        assert found.tolist() == [UNREACHABLE if size is None else size for size in expected]


def test_ties_are_enough_here_as_well() -> None:
    found = sample_sizes([20, 100, 1_000_000, 40], 1, C95, [1.0, 1.0, 1.0, 0.95])
    assert found.tolist() == [19, 95, 950_000, 40]


def test_what_cannot_be_reached_is_no_number_of_units() -> None:
    assert UNREACHABLE == -1
    assert sample_sizes([80, 80], [1, 2], C95, 0.8).tolist() == [-1, 78]


def test_shapes_are_broadcast() -> None:
    found = sample_sizes(np.array([[200], [500], [1000]]), np.array([1, 2]), C95, 1.0)
    assert found.shape == (3, 2)
    assert found.tolist() == [[190, 155], [475, 388], [950, 777]]
    assert miss_probabilities(200, 10, np.arange(6), 1.0).shape == (6,)


def test_plain_numbers_give_an_array_without_dimensions() -> None:
    assert sample_sizes(200, 10, C95, 1.0).shape == ()
    assert int(sample_sizes(200, 10, C95, 1.0)) == 51
    assert float(miss_probabilities(200, 10, 51, 1.0)) == pytest.approx(miss_probability(200, 10, 51, 1.0))


def test_no_lots_give_no_plans() -> None:
    assert sample_sizes([], [], C95, []).shape == (0,)
    assert miss_probabilities([], [], [], []).shape == (0,)


def test_whole_numbers_may_come_as_floats() -> None:
    assert sample_sizes(np.array([200.0]), np.array([10.0]), C95, 1.0).tolist() == [51]


@pytest.mark.parametrize(
    ("parameter", "place", "refused"),
    [
        ("lot_sizes", "[1]", lambda: sample_sizes([10, 0], 1, C95, 1.0)),
        ("lot_sizes", "[0]", lambda: sample_sizes([10_000_001], 1, C95, 1.0)),
        ("lot_sizes", "[1]", lambda: sample_sizes([10, 10.5], 1, C95, 1.0)),
        ("lot_sizes", "[1, 0]", lambda: sample_sizes(np.array([[10], [np.nan]]), 1, C95, 1.0)),
        ("lot_sizes", "[0]", lambda: sample_sizes(0, 1, C95, 1.0)),
        ("infested", "[1]", lambda: sample_sizes([10, 10], [1, 11], C95, 1.0)),
        ("infested", "[0]", lambda: sample_sizes([10, 10], [0, 10], C95, 1.0)),
        ("sensitivities", "[1]", lambda: sample_sizes(10, 1, C95, [1.0, 1.01])),
        ("sensitivities", "[0]", lambda: sample_sizes(10, 1, C95, [0.0, 1.0])),
        ("sensitivities", "[0]", lambda: sample_sizes(10, 1, C95, [np.nan])),
        ("sample_sizes", "[2]", lambda: miss_probabilities(10, 1, [0, 10, 11], 1.0)),
        ("sample_sizes", "[0]", lambda: miss_probabilities(10, 1, [-1, 10], 1.0)),
    ],
)
def test_the_lot_out_of_range_is_named(parameter: str, place: str, refused: Callable[[], object]) -> None:
    with pytest.raises(OutOfDomain) as refusal:
        refused()
    assert refusal.value.parameter == parameter
    assert str(refusal.value) == f"{parameter} has a value out of its range at {place}."


def test_the_confidence_is_one_for_all() -> None:
    with pytest.raises(OutOfDomain, match="confidence"):
        sample_sizes([10], [1], Decimal(1), [1.0])
