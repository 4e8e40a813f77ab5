"""When hatch dates of the nursery's own may stand in place of published figures."""

from dataclasses import asdict, replace
from datetime import UTC, datetime, timedelta

import pytest

from service.catalogue.rules import development
from service.journal.rules import plain
from service.reference.loader import shipped
from service.science.development import Development, Reading
from service.science.domain import OutOfDomain
from service.trials.rules_development import (
    FEWEST_MASSES,
    Fitted,
    Mass,
    development_reasons,
    fitted,
    median_days,
    refitted,
    shortest_share,
    warmth,
)

SNAIL: Development = development(
    "bladder_snail", plain(asdict(shipped().pests["bladder_snail"]))["development"]
)
FACTOR = 1.5  # of the standard policy
START = datetime(2026, 3, 2, 9, tzinfo=UTC)
NOISE = (0.97, 1.0, 1.03)


def seen(
    celsius: tuple[float, ...] = (20.0, 24.0),
    *,
    each: int = 6,
    threshold_c: float = 9.0,
    constant_dd: float = 170.0,
    noise: tuple[float, ...] = NOISE,
    trials: int = 1,
) -> list[Mass]:
    """Masses that hatch as the figures say, give or take the noise."""
    return [
        Mass(warm, 0.5, constant_dd / (warm - threshold_c) * noise[n % len(noise)], f"trial {n % trials}")
        for warm in celsius
        for n in range(each)
    ]


def found(masses: list[Mass]) -> Fitted:
    return fitted("bladder_snail", masses, SNAIL.optimum_c)


def codes(masses: list[Mass], factor: float = FACTOR) -> list[str]:
    return [reason.code for reason in development_reasons(found(masses), SNAIL, factor)]


def test_enough_masses_at_two_temperatures_give_figures_that_may_be_taken_over() -> None:
    assert codes(seen()) == []
    own = refitted(found(seen()), SNAIL)
    assert own.lower_threshold_c == pytest.approx(9.0, abs=0.5)
    assert own.thermal_constant_dd == pytest.approx(170, rel=0.05)
    assert own.thermal_constant_dd == pytest.approx(own.anchor_days * (own.anchor_c - own.lower_threshold_c))
    assert own.lower_threshold_range is not None
    low, high = own.lower_threshold_range
    assert low < own.lower_threshold_c < high
    assert (own.optimum_c, own.maximum_c) == (SNAIL.optimum_c, SNAIL.maximum_c)


def test_only_untreated_masses_in_steady_water_below_the_optimum_count() -> None:
    good = seen()
    odd = [
        replace(good[0], celsius=None),
        replace(good[0], treated=True),
        replace(good[0], swing=2.5),
        replace(good[0], celsius=27.5, swing=1.0),
    ]
    fit = found([*odd, *good])
    assert (len(fit.masses), fit.left_out) == (12, 4)
    assert fit.fit == found(good).fit
    none = found(odd)
    assert none.fit is None
    assert "No untreated mass" in str(none.why_not)


def test_few_masses_a_narrow_span_or_a_lonely_end_are_not_enough() -> None:
    assert codes(seen(each=5)) == ["too-few-masses"]
    assert codes(seen((20.0, 23.0))) == ["too-narrow"]
    lonely = [*seen((20.0, 22.0)), *seen((24.0,), each=2)]
    assert codes(lonely) == ["too-narrow"]
    assert codes([*lonely, *seen((24.5,), each=1)]) == []


def test_a_fit_that_is_known_too_loosely_is_not_taken_over() -> None:
    assert "too-uncertain" in codes(seen(noise=(0.9, 1.0, 1.1)))


def test_without_a_fit_nothing_is() -> None:
    assert codes([]) == ["no-fit"]
    assert codes(seen((20.0,))) == ["no-fit"]
    assert codes(seen((20.0, 24.0), each=1)) == ["no-fit"]  # two points have no errors
    with pytest.raises(OutOfDomain):
        refitted(found([]), SNAIL)


def test_a_wait_that_would_miss_own_eggs_is_not_taken_over() -> None:
    late = [*seen(each=11), *(replace(mass, days=mass.days * 1.25) for mass in seen(each=1))]
    assert codes(late, factor=1.1) == ["hatched-later"]
    assert codes(late) == []


def test_it_takes_two_trials_to_shorten_a_wait_and_none_shortens_it_below_three_quarters() -> None:
    shorter = seen(constant_dd=130.0)
    assert 0.75 < shortest_share(refitted(found(shorter), SNAIL), SNAIL) < 1
    assert codes(shorter) == ["one-trial"]
    assert codes(seen(constant_dd=130.0, trials=2)) == []
    assert codes(seen(constant_dd=80.0, trials=2)) == ["much-shorter"]


def test_the_wait_is_that_of_the_slowest_believable_threshold() -> None:
    """By hand, from the shipped figures: 8.5 days at 25 °C with T0 of 9, 5 and 10 °C."""
    assert median_days(20, SNAIL) == pytest.approx(8.5 * (25 - 10) / (20 - 10))
    assert median_days(28, SNAIL) == pytest.approx(8.5 * (25 - 5) / (28 - 5))
    assert median_days(10, SNAIL) == float("inf")


def test_reasons_say_what_is_needed() -> None:
    [reason] = development_reasons(found(seen(each=5)), SNAIL, FACTOR)
    assert (reason.needed, reason.have) == (FEWEST_MASSES, 10)


def test_thresholds_are_refitted_from_hatch_dates() -> None:
    # The rates of the worked example in docs/science.md: 29.3, 16 and 11 days at 15, 20 and 25 °C.
    read = [(15.01, 29.3), (20.0, 16.0), (24.98, 11.0), (None, 4.0)]
    fit = found([Mass(celsius, 0.0, days, "one") for celsius, days in read]).fit
    assert fit is not None
    assert (round(fit.lower_threshold_c, 1), round(fit.thermal_constant_dd), fit.observations) == (
        9.0,
        176,
        3,
    )


def test_the_warmth_of_a_mass_is_what_was_read_while_it_developed() -> None:
    log = [Reading(START + timedelta(days=n), 20.0 + n) for n in range(5)]
    assert warmth(log, START + timedelta(days=1), START + timedelta(days=3)) == (22, 1)
    assert warmth(log, START - timedelta(days=3), START - timedelta(days=2)) == (None, 0)
