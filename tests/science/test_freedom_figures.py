"""Figures that the chance of freedom is made of: what a look misses, units expected, and what is refused."""

import math
from typing import Any

import numpy as np
import pytest

from service.science import freedom
from service.science.domain import OutOfDomain
from service.science.freedom import probability_of_freedom, unseen_shares


def test_only_eyes_are_scaled_by_the_share_looked_at() -> None:
    assert freedom.missed_by_look(0.5, eyes=0.8) == pytest.approx(0.6)
    assert freedom.missed_by_look(0.5, strain=0.75) == pytest.approx(0.25)
    assert freedom.missed_by_look(0.0, eyes=0.8, strain=0.5, bait=0.875) == pytest.approx(0.25)
    assert freedom.missed_by_look(1.0, eyes=1.0) == 0.0


def test_bait_for_three_animals_is_turned_into_that_for_one() -> None:
    assert freedom.bait_for_one(0.875) == pytest.approx(0.5)
    assert freedom.bait_for_one(0.75, animals=2) == pytest.approx(0.5)
    assert freedom.bait_for_one(0.0) == 0.0
    assert freedom.bait_for_one(1.0) == 1.0


def test_what_was_picked_off_is_gone_but_says_how_much_was_missed() -> None:
    assert freedom.expected_after_find(0, 3, 0.8) == pytest.approx(3.5 * 0.25)
    assert freedom.expected_after_find(2, 0, 0.5) == pytest.approx(2.5)
    assert freedom.expected_after_find(2, 0, 0.5, kill=0.8) == pytest.approx(0.5)
    assert freedom.expected_after_find(4, 1, 1.0) == 4.0


def test_a_supplier_s_record_gives_the_units_expected() -> None:
    assert freedom.expected_from_record(1, 9, 0, 0) == pytest.approx(-math.log(0.9))
    assert freedom.expected_from_record(1, 9, 3, 7, kill=0.5) == pytest.approx(-math.log(0.8) / 2)
    assert freedom.expected_from_record(1, 9, 0, 90) == pytest.approx(-math.log(0.99))


REFUSED: list[tuple[str, Any]] = [
    ("median_dd", lambda: unseen_shares(0, [1.0], [0.0], [[1, 1, 1]], hidden_young=0, hidden_grown=0)),
    ("median_dd", lambda: unseen_shares(math.inf, [1.0], [0.0], [[1, 1, 1]], hidden_young=0, hidden_grown=0)),
    ("misses", lambda: unseen_shares(9, [1.0], [0.0], [[1, 1, 1.1]], hidden_young=0, hidden_grown=0)),
    ("misses", lambda: unseen_shares(9, [1.0], [0.0], [[-0.1, 1, 1]], hidden_young=0, hidden_grown=0)),
    ("misses", lambda: unseen_shares(9, [1.0], [0.0], [[math.nan, 1, 1]], hidden_young=0, hidden_grown=0)),
    ("hidden_young", lambda: unseen_shares(9, [1.0], [0.0], [[1, 1, 1]], hidden_young=1.1, hidden_grown=0)),
    ("hidden_young", lambda: unseen_shares(9, [1.0], [0.0], [[1, 1, 1]], hidden_young=-0.1, hidden_grown=0)),
    ("hidden_grown", lambda: unseen_shares(9, [1.0], [0.0], [[1, 1, 1]], hidden_young=0.1, hidden_grown=0.2)),
    (
        "hidden_grown",
        lambda: unseen_shares(9, [1.0], [0.0], [[1, 1, 1]], hidden_young=0.1, hidden_grown=-0.1),
    ),
    ("expected", lambda: probability_of_freedom([-0.1], np.ones((1, 41)))),
    ("expected", lambda: freedom.units_left([math.nan], np.ones((1, 41)))),
    ("looked_at", lambda: freedom.missed_by_look(1.1)),
    ("eyes", lambda: freedom.missed_by_look(1, eyes=1.1)),
    ("strain", lambda: freedom.missed_by_look(1, strain=-0.1)),
    ("bait", lambda: freedom.missed_by_look(1, bait=2)),
    ("sensitivity", lambda: freedom.bait_for_one(1.1)),
    ("animals", lambda: freedom.bait_for_one(0.5, animals=0)),
    ("not_removed", lambda: freedom.expected_after_find(-1, 0, 0.5)),
    ("removed", lambda: freedom.expected_after_find(0, -1, 0.5)),
    ("sensitivity", lambda: freedom.expected_after_find(0, 0, 0)),
    ("kill", lambda: freedom.expected_after_find(0, 0, 0.5, kill=1.1)),
    ("prior_alpha", lambda: freedom.expected_from_record(0, 9, 0, 0)),
    ("prior_beta", lambda: freedom.expected_from_record(1, 0, 0, 0)),
    ("infested", lambda: freedom.expected_from_record(1, 9, -1, 0)),
    ("clean", lambda: freedom.expected_from_record(1, 9, 0, -1)),
    ("kill", lambda: freedom.expected_from_record(1, 9, 0, 0, kill=-0.1)),
    ("free", lambda: freedom.after_clean_look(1.1, 0.5)),
    ("system_sensitivity", lambda: freedom.after_clean_look(0.5, 1.1)),
    ("introduction", lambda: freedom.after_clean_look(0.5, 0.5, -0.1)),
]


@pytest.mark.parametrize(("parameter", "refused"), REFUSED)
def test_figures_without_sense_are_refused_by_name(parameter: str, refused: Any) -> None:
    with pytest.raises(OutOfDomain) as problem:
        refused()
    assert problem.value.parameter == parameter
