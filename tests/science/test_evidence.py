"""What a trial adds to what is known: tubs that differ, a kill that is learnt, an eye that is tested."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science.domain import OutOfDomain
from service.science.evidence import (
    BetaCredit,
    Dispersion,
    credit_interval,
    design_effect,
    dispersion,
    prior_credit,
    sensitivity_found,
    updated_credit,
)
from service.science.thermal import Development, share_hatched, share_hatched_of_any_age

POND = Development("pond_snail", 9.0, 176.0, 16.0, 20.0, (5.0, 9.5), 28.0, 34.0)
SHARE = st.floats(0, 1)


def test_tubs_that_differ_as_chance_has_it_have_no_dispersion_of_their_own() -> None:
    # By hand: share 1/2, each tub off by 1 of 10: (1 + 1) / (10 / 4) over one degree of freedom.
    found = dispersion([[(4, 10), (6, 10)]])
    assert found is not None
    assert found.ratio == pytest.approx(0.8)
    assert found.degrees_of_freedom == 1


def test_each_arm_is_measured_about_its_own_share() -> None:
    assert dispersion([[(2, 10), (2, 10)], [(9, 10), (9, 10)]]) == Dispersion(0, 2)


@pytest.mark.parametrize(
    "arms", [[], [[]], [[(3, 10)]], [[(0, 10), (0, 10)]], [[(10, 10), (5, 5)], [(4, 9)]]]
)
def test_one_tub_or_an_arm_without_any_difference_says_nothing(arms: list[list[tuple[int, int]]]) -> None:
    assert dispersion(arms) is None


def test_an_arm_that_says_nothing_does_not_thin_the_others() -> None:
    plain, more = [[(4, 10), (6, 10)]], [[(4, 10), (6, 10)], [(0, 10), (0, 10)], [(1, 3)]]
    assert dispersion(more) == dispersion(plain)


@pytest.mark.parametrize("found", [None, Dispersion(1, 3), Dispersion(0.2, 3)])
def test_tubs_that_differ_no_more_than_by_chance_leave_units_what_they_are(found: Dispersion | None) -> None:
    assert design_effect(found) == 1


def test_what_few_tubs_say_of_their_differences_is_trusted_less() -> None:
    # Student's t of 8 and of 1 degrees of freedom, two-sided 95 %: 2.306 and 12.706 (any table).
    assert design_effect(Dispersion(2, 8)) == pytest.approx(2 * (2.306 / 1.95996) ** 2, rel=1e-3)
    assert design_effect(Dispersion(2, 1)) == pytest.approx(2 * (12.706 / 1.95996) ** 2, rel=1e-3)
    assert design_effect(Dispersion(2, 10**6)) == pytest.approx(2, rel=1e-4)


@given(kill=SHARE, weight=st.floats(0.1, 100))
def test_a_prior_keeps_its_weight_and_nearly_its_kill(kill: float, weight: float) -> None:
    credit = prior_credit(kill, weight)
    assert credit.weight == pytest.approx(weight)
    assert abs(credit.kill - kill) <= 0.01 + 1e-12


def test_units_that_would_have_died_anyway_are_no_kills() -> None:
    # 20 treated, of which 16 would have lived: 14 killed and 2 left.
    credit = updated_credit(BetaCredit(1, 1), treated=20, survivors=2, control_survival=0.8)
    assert (credit.killed, credit.survived) == pytest.approx((15, 3))


def test_a_treatment_that_does_worse_than_none_is_credited_with_nothing() -> None:
    credit = updated_credit(BetaCredit(1, 1), treated=20, survivors=19, control_survival=0.8)
    assert (credit.killed, credit.survived) == pytest.approx((1, 17))


def test_units_of_one_tub_count_for_fewer() -> None:
    credit = updated_credit(BetaCredit(1, 1), 20, 5, 1.0, design_effect=2)
    assert (credit.killed, credit.survived) == pytest.approx((8.5, 3.5))


@given(st.integers(1, 200), SHARE, SHARE, st.floats(1, 5))
def test_the_credit_goes_towards_what_was_seen(
    treated: int, left: float, control: float, effect: float
) -> None:
    prior, survivors = prior_credit(0.5, 4), round(left * treated)
    after = updated_credit(prior, treated, survivors, control, effect)
    assert after.weight == pytest.approx(prior.weight + treated * control / effect)
    seen = max(0.0, 1 - survivors / (treated * control)) if treated * control else 0.5
    assert min(seen, 0.5) - 1e-9 <= after.kill <= max(seen, 0.5) + 1e-9


@given(st.floats(0.5, 100), st.floats(0.5, 100), st.floats(0.5, 0.99))
def test_the_limits_of_a_credit_lie_round_its_middle(killed: float, survived: float, sure: float) -> None:
    found = credit_interval(BetaCredit(killed, survived), sure)
    wider = credit_interval(BetaCredit(killed, survived), 0.995)
    assert 0 <= wider.low <= found.low <= found.high <= wider.high <= 1
    assert found.estimate == killed / (killed + survived)


def test_an_eye_that_found_eight_of_ten_may_be_a_poor_one() -> None:
    found = sensitivity_found(10, 8)
    assert found.estimate == 0.8
    assert found.low < 0.45


@pytest.mark.parametrize(
    ("parameter", "refused"),
    [
        ("killed", lambda: BetaCredit(0, 1)),
        ("survived", lambda: BetaCredit(1, 0)),
        ("weight", lambda: prior_credit(0.5, 0)),
        ("kill", lambda: prior_credit(1.1, 2)),
        ("survivors", lambda: updated_credit(BetaCredit(1, 1), 3, 4, 1.0)),
        ("treated", lambda: updated_credit(BetaCredit(1, 1), -1, 0, 1.0)),
        ("design_effect", lambda: updated_credit(BetaCredit(1, 1), 3, 1, 1.0, 0.9)),
        ("count", lambda: dispersion([[(11, 10), (1, 10)]])),
        ("total", lambda: dispersion([[(0, 0), (1, 10)]])),
        ("found", lambda: sensitivity_found(3, 4)),
        ("hidden", lambda: sensitivity_found(0, 0)),
    ],
)
def test_what_cannot_be_is_refused(parameter: str, refused: Callable[[], object]) -> None:
    with pytest.raises(OutOfDomain) as problem:
        refused()
    assert problem.value.parameter == parameter


def test_nothing_has_hatched_before_any_warmth() -> None:
    assert share_hatched_of_any_age(0, POND) == 0
    assert share_hatched_of_any_age(-5, POND) == 0


@given(st.floats(0.1, 1000), st.floats(0.1, 1000))
def test_eggs_of_any_age_hatch_no_later_than_fresh_ones_and_more_with_warmth(
    one: float, other: float
) -> None:
    low, high = sorted((one, other))
    assert share_hatched_of_any_age(low, POND) <= share_hatched_of_any_age(high, POND) + 1e-12
    assert share_hatched(low, POND) <= share_hatched_of_any_age(low, POND) + 1e-12 <= 1 + 2e-12
