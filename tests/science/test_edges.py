"""Edges that no other page of these tests stands on: ties, defaults, a single piece, shares above one."""

import pytest

from service.science.copper import blind_level_mg_per_l, blind_limit_mg_per_l
from service.science.domain import OutOfDomain
from service.science.freedom import after_clean_look, expected_from_record
from service.science.intermittent import teunter_syntetos_babai
from service.science.solutions import after_water_change
from service.science.survival import Watched, kaplan_meier, median_days


def test_the_median_is_reached_when_exactly_half_are_left() -> None:
    group = [Watched(3, died=True), Watched(5, died=True), Watched(9, died=False), Watched(9, died=False)]
    assert median_days(kaplan_meier(group)) == 5


def test_one_seen_no_longer_before_a_death_does_not_end_the_curve() -> None:
    group = [Watched(2, died=False), Watched(5, died=True), Watched(9, died=False)]
    assert [step.days for step in kaplan_meier(group)][-1] == 5


def test_a_use_of_one_piece_is_a_use() -> None:
    # By hand: 2 pieces, chance 1; then chance 0.9; then 0.9 + 0.1 (1 - 0.9) = 0.91 and 2 + 0.5 (1 - 2) = 1.5.
    assert teunter_syntetos_babai([2, 0, 1], 0.5, 0.1) == pytest.approx(1.5 * 0.91)


def test_without_a_rate_of_decay_none_is_assumed() -> None:
    assert blind_level_mg_per_l(0.4, 2, 0.5) == pytest.approx(0.6)
    assert blind_limit_mg_per_l(0.4, 0.5) == pytest.approx(0.8)


@pytest.mark.parametrize("share", [1.5, 2.0])
def test_a_share_is_at_most_one(share: float) -> None:
    with pytest.raises(OutOfDomain):
        after_water_change(1.0, 0.0, carry_over=share)
    with pytest.raises(OutOfDomain):
        after_clean_look(0.1, 0.5, introduction=share)
    with pytest.raises(OutOfDomain):
        expected_from_record(1, 10, 0.5, 100, kill=share)
