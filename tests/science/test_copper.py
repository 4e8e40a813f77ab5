"""Copper: caps by form (assumed figures, no source, kept by decision), re-dosing algebra, water criteria."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science import copper
from service.science.copper import CopperCap, copper_cap
from service.science.domain import OutOfDomain
from service.science.solutions import after_water_change


def test_ionic_copper_warns_above_its_usual_dose_and_blocks_at_one_mg_per_l() -> None:
    assert copper_cap("ionic") == CopperCap(0.6, 1.0)


def test_amine_blocks_where_ionic_does_and_chelates_later() -> None:
    assert copper_cap("amine") == CopperCap(None, 1.0)
    assert copper_cap("chelate") == CopperCap(None, 2.5)


@pytest.mark.parametrize("form", ["", "Ionic", "unknown"])
def test_copper_of_an_unrecorded_form_has_no_cap_and_is_refused(form: str) -> None:
    with pytest.raises(OutOfDomain, match="ionic, amine, chelate"):
        copper_cap(form)


def test_a_stock_of_one_gram_to_the_litre_takes_3_929_g_of_the_blue_salt() -> None:
    assert copper.salt_g(1000, 1) == pytest.approx(3.929, rel=1e-3)
    assert copper.salt_g(0.4, 40) == pytest.approx(0.06287, rel=1e-3)
    assert copper.salt_g(1000, 1, "copper_sulfate") == pytest.approx(2.512, rel=1e-3)


def test_blind_doses_pile_up_to_twice_the_target() -> None:
    # 0.5 (1 - 0.5^4) / (1 - 0.5) = 0.9375; with a loss of 0.15 a day and 3.5 days between doses 0.710.
    assert copper.blind_level_mg_per_l(0.5, 4, 0.5) == pytest.approx(0.9375)
    assert copper.blind_limit_mg_per_l(0.5, 0.5) == pytest.approx(1.0)
    assert copper.blind_limit_mg_per_l(0.5, 0.5, 0.15, 3.5) == pytest.approx(0.710, rel=1e-3)
    assert copper.blind_level_mg_per_l(0.5, 0, 0.5) == 0
    assert copper.blind_level_mg_per_l(0.5, 3, 0) == pytest.approx(1.5)
    assert copper.USUAL_DECAY_PER_DAY == 0.15


@given(st.floats(0.01, 2), st.integers(0, 12), st.floats(0.05, 0.98))
def test_blind_doses_are_changes_and_doses_in_turn(dose: float, doses: int, fraction: float) -> None:
    level = 0.0
    for _ in range(doses):
        level = after_water_change(level, fraction, carry_over=0.0) + dose
    found = copper.blind_level_mg_per_l(dose, doses, fraction)
    assert found == pytest.approx(level)
    assert found <= copper.blind_limit_mg_per_l(dose, fraction) * (1 + 1e-12)


def test_without_change_or_loss_there_is_no_end() -> None:
    with pytest.raises(OutOfDomain, match="pile up without end"):
        copper.blind_limit_mg_per_l(0.5, 0)
    assert copper.blind_limit_mg_per_l(0.5, 0, 0.15, 3.5) > 0.5


def test_above_the_target_a_share_of_the_water_is_changed() -> None:
    assert copper.change_to_reach(0.90, 0.5) == pytest.approx(0.444, abs=5e-4)
    assert copper.change_to_reach(0.5, 0.5) == copper.change_to_reach(0.4, 0.5) == 0
    assert copper.change_to_reach(0.5, 0) == 1


@given(st.floats(0.01, 5), st.floats(0, 5))
def test_the_change_brings_it_to_the_target(read: float, target: float) -> None:
    change = copper.change_to_reach(read, target)
    assert after_water_change(read, change, carry_over=0.0) == pytest.approx(min(read, target), abs=1e-12)


def test_water_is_thinned_to_a_limit() -> None:
    assert copper.dilution_factor(0.4, 0.00896) == pytest.approx(44.6, rel=1e-3)
    assert copper.dilution_factor(0.005, 0.009) == 1


def test_criteria_count_dissolved_copper_unless_told() -> None:
    assert copper.acute_criterion_ug_per_l(100) == pytest.approx(13.44, rel=1e-3)
    assert copper.acute_criterion_ug_per_l(100, dissolved=False) == pytest.approx(14.00, rel=1e-3)
    assert copper.chronic_criterion_ug_per_l(100, dissolved=False) == pytest.approx(9.329, rel=1e-3)
    assert copper.acute_criterion_ug_per_l(25) < copper.acute_criterion_ug_per_l(400)
    for refused in (24.9, 400.1, float("nan")):
        with pytest.raises(OutOfDomain):
            copper.acute_criterion_ug_per_l(refused)
        with pytest.raises(OutOfDomain):
            copper.chronic_criterion_ug_per_l(refused)


@pytest.mark.parametrize(("alkalinity", "salt"), [(50, 0.5), (100, 1.0), (250, 2.5), (251, 2.5), (400, 2.5)])
def test_the_pond_rule_ends_at_two_and_a_half(alkalinity: float, salt: float) -> None:
    assert copper.pond_sulfate_mg_per_l(alkalinity) == salt


@pytest.mark.parametrize("alkalinity", [49.9, 0, -1, float("nan"), float("inf")])
def test_soft_ponds_get_no_copper(alkalinity: float) -> None:
    with pytest.raises(OutOfDomain) as refusal:
        copper.pond_sulfate_mg_per_l(alkalinity)
    assert refusal.value.parameter == "alkalinity_mg_per_l"


def test_arguments_without_sense_are_refused() -> None:
    refusals: tuple[tuple[str, Callable[[], object]], ...] = (
        ("copper_mg_per_l", lambda: copper.salt_g(-1, 1)),
        ("volume_l", lambda: copper.salt_g(1, 0)),
        ("doses", lambda: copper.blind_level_mg_per_l(0.5, -1, 0.5)),
        ("dose_mg_per_l", lambda: copper.blind_level_mg_per_l(-0.5, 1, 0.5)),
        ("fraction", lambda: copper.blind_level_mg_per_l(0.5, 1, 1.1)),
        ("rate_per_day", lambda: copper.blind_level_mg_per_l(0.5, 1, 0.5, -1, 1)),
        ("days", lambda: copper.blind_limit_mg_per_l(0.5, 0.5, 1, -1)),
        ("dose_mg_per_l", lambda: copper.blind_limit_mg_per_l(-0.5, 0.5)),
        ("read_mg_per_l", lambda: copper.change_to_reach(0, 0.5)),
        ("target_mg_per_l", lambda: copper.change_to_reach(1, -0.5)),
        ("held_mg_per_l", lambda: copper.dilution_factor(-1, 1)),
        ("limit_mg_per_l", lambda: copper.dilution_factor(1, 0)),
    )
    for parameter, refused in refusals:
        with pytest.raises(OutOfDomain) as refusal:
            refused()
        assert refusal.value.parameter == parameter
