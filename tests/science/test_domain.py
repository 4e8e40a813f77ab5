"""Arguments outside a formula's domain are refused by name."""

import pickle
from collections.abc import Callable
from decimal import Decimal

import pytest

from service.science.domain import OutOfDomain, not_negative, positive, share, within


@pytest.mark.parametrize("value", [0, -1, float("nan"), float("inf"), Decimal("NaN")])
def test_what_must_be_positive_is_above_zero_and_finite(value: float) -> None:
    with pytest.raises(OutOfDomain, match="volume_l must be a number above zero") as refusal:
        positive("volume_l", value)
    assert refusal.value.parameter == "volume_l"


@pytest.mark.parametrize("value", [-0.1, float("nan"), float("-inf")])
def test_what_must_not_be_negative_is_zero_or_more(value: float) -> None:
    with pytest.raises(OutOfDomain, match="zero or more"):
        not_negative("days", value)


@pytest.mark.parametrize("value", [-1.1, 45.1, float("nan")])
def test_what_must_lie_within_bounds_does(value: float) -> None:
    with pytest.raises(OutOfDomain, match="between -1 and 45"):
        within("celsius", value, -1, 45)


@pytest.mark.parametrize("value", [0, 1.01, float("nan")])
def test_a_share_is_above_zero_and_at_most_one(value: float) -> None:
    with pytest.raises(OutOfDomain, match="above 0 and at most 1"):
        share("fraction", value)


@pytest.mark.parametrize(
    "accepted",
    [
        lambda: positive("a", 0.1),
        lambda: not_negative("a", 0),
        lambda: within("a", 45, -1, 45),
        lambda: share("a", Decimal(1)),
    ],
)
def test_what_lies_inside_passes(accepted: Callable[[], None]) -> None:
    accepted()


def test_a_refusal_is_a_value_error_that_survives_the_way_between_processes() -> None:
    refusal = OutOfDomain("days", "days must be zero or more, not -1.")
    again = pickle.loads(pickle.dumps(refusal))  # noqa: S301  # our own bytes, made one line ago
    assert isinstance(again, OutOfDomain)
    assert isinstance(refusal, ValueError)
    assert (str(again), again.parameter) == ("days must be zero or more, not -1.", "days")
