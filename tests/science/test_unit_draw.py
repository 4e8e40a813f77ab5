"""Draws that anyone can repeat, and their split over the strata of a mixed lot."""

import hashlib
from collections import Counter
from collections.abc import Callable
from itertools import product

import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy import stats

from service.science.domain import OutOfDomain
from service.science.unit_draw import draw_units, proportional_strata


def test_the_draw_is_that_of_the_smallest_hashes() -> None:
    # As with: printf 'L-7\n2\nspring\n17' | sha256sum
    keys = {unit: hashlib.sha256(f"L-7\n2\nspring\n{unit}".encode()).hexdigest() for unit in range(1, 61)}
    expected = sorted(sorted(keys, key=keys.__getitem__)[:12])
    assert draw_units("L-7", 2, "spring", 60, 12) == tuple(expected)


def test_a_draw_stays_what_it_is() -> None:
    # The three smallest of ten, sorted by the coreutils' sha256sum.
    assert draw_units("L-7", 1, "spring", 10, 3) == (2, 6, 9)


@pytest.mark.parametrize(
    ("lot", "draw_number", "secret"), [("L-8", 1, "spring"), ("L-7", 2, "spring"), ("L-7", 1, "summer")]
)
def test_another_lot_draw_or_secret_draws_other_units(lot: str, draw_number: int, secret: str) -> None:
    assert draw_units(lot, draw_number, secret, 500, 50) != draw_units("L-7", 1, "spring", 500, 50)


@given(st.integers(1, 200).flatmap(lambda total: st.tuples(st.just(total), st.integers(0, total))))
def test_units_are_of_the_lot_ascending_and_each_once(lot: tuple[int, int]) -> None:
    lot_size, size = lot
    drawn = draw_units("L-7", 1, "spring", lot_size, size)
    assert len(drawn) == size
    assert list(drawn) == sorted(set(drawn))
    assert set(drawn) <= set(range(1, lot_size + 1))
    assert set(draw_units("L-7", 1, "spring", lot_size, max(0, size - 1))) <= set(drawn)


def test_a_draw_of_all_is_all() -> None:
    assert draw_units("L-7", 1, "spring", 5, 5) == (1, 2, 3, 4, 5)


def test_every_unit_is_drawn_about_as_often() -> None:
    drawn = Counter(unit for number in range(1, 2001) for unit in draw_units("L-7", number, "spring", 20, 5))
    assert stats.chisquare([drawn[unit] for unit in range(1, 21)]).pvalue > 0.001


@pytest.mark.parametrize(
    ("strata", "size", "split"),
    [
        ([150, 50], 51, (39, 13)),
        ([60], 38, (38,)),
        ([10, 10, 10], 1, (1, 1, 1)),
        ([10, 20], 3, (1, 2)),
        ([5, 5], 10, (5, 5)),
        ([5, 5], 0, (0, 0)),
    ],
)
def test_strata_get_their_part_rounded_up(strata: list[int], size: int, split: tuple[int, ...]) -> None:
    assert proportional_strata(strata, size) == split


@given(st.lists(st.integers(1, 500), min_size=1, max_size=8), st.floats(0, 1))
def test_no_stratum_is_short_or_overdrawn(strata: list[int], part: float) -> None:
    size = int(sum(strata) * part)
    split = proportional_strata(strata, size)
    for stratum, drawn in zip(strata, split, strict=True):
        assert size * stratum / sum(strata) - 1e-9 <= drawn <= stratum
    assert size <= sum(split) < size + len(strata)


def test_a_split_draw_misses_no_more_than_the_plain_one() -> None:
    # 150 + 50 plants, 10 infested in any split: at most 5 % missed; the plain draw of 51 misses 4.86 %.
    first, second = proportional_strata([150, 50], 51)
    for there in range(11):
        missed = stats.hypergeom.pmf(0, 150, there, first) * stats.hypergeom.pmf(0, 50, 10 - there, second)
        assert missed <= 0.05


@pytest.mark.parametrize(
    ("parameter", "refused"),
    [
        ("lot_size", lambda: draw_units("L", 1, "s", 0, 0)),
        ("lot_size", lambda: draw_units("L", 1, "s", 10_000_001, 0)),
        ("sample_size", lambda: draw_units("L", 1, "s", 5, 6)),
        ("sample_size", lambda: draw_units("L", 1, "s", 5, -1)),
        ("draw_number", lambda: draw_units("L", 0, "s", 5, 1)),
        ("draw_number", lambda: draw_units("L", 10_000_001, "s", 5, 1)),
        ("strata_sizes", lambda: proportional_strata([5, 0], 1)),
        ("strata_sizes", lambda: proportional_strata([5, 10_000_001], 1)),
        ("sample_size", lambda: proportional_strata([5, 5], 11)),
        ("sample_size", lambda: proportional_strata([5, 5], -1)),
        ("sample_size", lambda: proportional_strata([], 1)),
    ],
)
def test_draws_that_cannot_be_are_refused(parameter: str, refused: Callable[[], object]) -> None:
    with pytest.raises(OutOfDomain) as refusal:
        refused()
    assert refusal.value.parameter == parameter


@pytest.mark.parametrize(("text", "parameter"), list(product(("", "a\nb"), ("lot", "secret"))))
def test_texts_that_could_be_taken_for_two_are_refused(text: str, parameter: str) -> None:
    texts = {"lot": "L", "secret": "s"} | {parameter: text}
    with pytest.raises(OutOfDomain, match=f"^{parameter} must be one line of text.$"):
        draw_units(texts["lot"], 1, texts["secret"], 5, 1)
