"""Alum: aluminium by the form, alkalinity, solubility and spoons."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science import alum
from service.science.domain import OutOfDomain
from service.science.substances import equivalent_g


@pytest.mark.parametrize(
    ("form", "percent", "alkalinity", "bicarbonate"),
    [
        # Aluminium in per cent, mg of CaCO3 and g of NaHCO3 used up by a mg or g, from molar masses.
        ("potassium_alum", 5.688, 0.3165, 0.5313),
        ("ammonium_alum", 5.952, 0.3312, 0.5559),
        ("aluminium_sulfate_18", 8.097, 0.4506, 0.7563),
        ("aluminium_sulfate_14", 9.079, 0.5052, 0.8480),
        ("burnt_potassium_alum", 10.450, 0.5814, 0.9761),
    ],
)
def test_each_form_has_its_aluminium_and_its_acid(
    form: str, percent: float, alkalinity: float, bicarbonate: float
) -> None:
    assert alum.aluminium_mg_per_l(1, form) == pytest.approx(10 * percent, rel=1e-3)
    assert alum.alkalinity_used_mg_per_l(1, form) == pytest.approx(1000 * alkalinity, rel=1e-3)
    assert alum.bicarbonate_g(1, form) == pytest.approx(bicarbonate, rel=1e-3)


@given(st.sampled_from(alum.FORMS), st.sampled_from(alum.FORMS), st.floats(0, 12))
def test_forms_of_equal_aluminium_use_equal_alkalinity(first: str, second: str, g_per_l: float) -> None:
    other = equivalent_g(g_per_l, first, second)
    used = alum.alkalinity_used_mg_per_l(g_per_l, first)
    assert alum.alkalinity_used_mg_per_l(other, second) == pytest.approx(used, rel=1e-9)
    neutral = alum.bicarbonate_g(g_per_l, first)
    assert alum.bicarbonate_g(other, second) == pytest.approx(neutral, rel=1e-9)


def test_the_usual_dose_is_potassium_alum() -> None:
    assert alum.aluminium_mg_per_l(3.5) == pytest.approx(199.1, rel=1e-3)
    assert alum.alkalinity_used_mg_per_l(3.5) == pytest.approx(1108, rel=1e-3)
    assert alum.bicarbonate_g(42) == pytest.approx(22.3, rel=2e-3)


def test_only_ammonium_alum_brings_nitrogen() -> None:
    assert alum.nitrogen_mg_per_l(3.5, "ammonium_alum") == pytest.approx(108.1, rel=1e-3)
    assert alum.nitrogen_mg_per_l(3.5, "potassium_alum") == 0


@pytest.mark.parametrize(
    ("celsius", "grams"), [(0, 5.65), (10, 7.58), (20, 11.4), (30, 16.6), (40, 23.8), (60, 57.5)]
)
def test_crystals_dissolve_in_added_water_and_their_own(celsius: float, grams: float) -> None:
    assert alum.solubility_g_per_100_g_water(celsius) == pytest.approx(grams, rel=3e-3)


def test_between_the_rows_the_anhydrous_salt_is_interpolated() -> None:
    # (3.99 + 5.9) / 2 = 4.945 anhydrous: 4.945 / (0.5443 - 0.4557 x 0.04945) = 9.477.
    assert alum.solubility_g_per_100_g_water(15) == pytest.approx(9.477, rel=1e-3)
    for refused in (-0.1, 60.1, float("nan")):
        with pytest.raises(OutOfDomain) as refusal:
            alum.solubility_g_per_100_g_water(refused)
        assert refusal.value.parameter == "celsius"


@given(st.floats(0, 59))
def test_more_dissolves_in_warmer_water(celsius: float) -> None:
    cool = alum.solubility_g_per_100_g_water(celsius)
    assert alum.solubility_g_per_100_g_water(celsius + 1) > cool


def test_a_soak_is_far_from_saturation_and_a_stock_is_not() -> None:
    limit = 8 * alum.solubility_g_per_100_g_water(20)
    assert not alum.near_solubility(11, 20)
    assert not alum.near_solubility(limit * 0.9999, 20)
    assert alum.near_solubility(limit * 1.0001, 20)
    assert alum.near_solubility(105, 18)


def test_spoons_are_an_estimate() -> None:
    # 66.24 g / 0.90 g/mL / 14.787 mL = 4.978.
    found = alum.spoons(66.24)
    assert (found.estimate, found.low, found.high) == pytest.approx((4.978, 4.231, 5.724), rel=1e-3)
    assert alum.spoons(66.24, 0.80).estimate == pytest.approx(5.600, rel=1e-3)
    assert alum.spooned_g(1) == pytest.approx(13.31, rel=1e-3)
    assert alum.spooned_g(1, 1.05) == pytest.approx(15.53, rel=1e-3)
    assert (alum.POWDER.value, alum.POWDER.grade) == (0.90, "assumption")


@pytest.mark.parametrize("form", ["alum", "copper_sulfate", ""])
def test_the_form_must_be_said(form: str) -> None:
    refusals: tuple[Callable[[], object], ...] = (
        lambda: alum.aluminium_mg_per_l(1, form),
        lambda: alum.alkalinity_used_mg_per_l(1, form),
        lambda: alum.bicarbonate_g(1, form),
        lambda: alum.nitrogen_mg_per_l(1, form),
    )
    for refused in refusals:
        with pytest.raises(OutOfDomain, match="form must be one of potassium_alum"):
            refused()


def test_amounts_below_nothing_are_refused() -> None:
    refusals: tuple[Callable[[], object], ...] = (
        lambda: alum.aluminium_mg_per_l(-1),
        lambda: alum.alkalinity_used_mg_per_l(-1),
        lambda: alum.bicarbonate_g(-1),
        lambda: alum.nitrogen_mg_per_l(-1, "potassium_alum"),
        lambda: alum.near_solubility(-1, 20),
        lambda: alum.spoons(-1),
        lambda: alum.spoons(1, 0),
        lambda: alum.spooned_g(-1),
        lambda: alum.spooned_g(1, 0),
    )
    for refused in refusals:
        with pytest.raises(OutOfDomain):
            refused()
