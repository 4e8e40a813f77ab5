"""Worked mixing problems of others, from label to amount."""

import pytest

from service.science import chlorine, ratios, solutions
from service.science.ratios import Dilution
from tests.reference.outside import Kind, outside

GALLON_L, POUND_G = 3.785411784, 453.59237


@pytest.mark.parametrize(
    ("target_percent", "stock_percent", "grams"), [(0.5, 35, 14.2), (0.05, 35, 1.4), (0.5, 70, 7.1)]
)
@outside(Kind.WORKED, "public-health sheet: grams to a litre = target per cent / powder per cent x 1000")
def test_chlorine_solution_from_powder(target_percent: float, stock_percent: float, grams: float) -> None:
    found = solutions.mass_g(10_000 * target_percent, 1, stock_percent / 100)
    assert found == pytest.approx(grams, rel=0.03)


@pytest.mark.xfail(strict=True, reason="disagreement: the quarter of an ounce is 655 mg/L, a third more")
@outside(Kind.WORKED, "US Army emergency sheet: 1/4 oz of 70 % hypochlorite to 2 gallons is about 500 mg/L")
def test_a_stock_from_a_spoon_of_granules() -> None:
    assert solutions.mass_g(500, 2 * GALLON_L, 0.70) == pytest.approx(0.25 / 16 * POUND_G, rel=0.15)


@outside(Kind.WORKED, "US Army emergency sheet: 1 part of 500 mg/L to 100 parts of water; about 5 mg/L")
def test_a_hundredth_of_a_stock() -> None:
    assert ratios.diluted_mg_per_l(0.5, Dilution(1, 100)) == pytest.approx(5, rel=0.02)


@pytest.mark.parametrize(("parts", "percent"), [(10, 0.525), (100, 0.0525)])
@outside(Kind.WORKED, "biology laboratory: 100 mL of 5.25 % bleach and 900 mL of water is 0.525 %")
def test_one_in_ten_is_one_and_nine(parts: int, percent: float) -> None:
    stock_ml, water_ml = ratios.stock_and_water_ml(Dilution(1, parts - 1), 1000)
    assert (stock_ml, water_ml) == pytest.approx((1000 / parts, 1000 - 1000 / parts))
    assert 5.25 * Dilution(1, parts - 1).stock_share == pytest.approx(percent)


@outside(Kind.WORKED, "pool keepers' forum: a gallon of 6.3 trade per cent in 10 000 gallons is 6.3 mg/L")
def test_a_gallon_of_bleach_in_a_pool() -> None:
    strength = chlorine.available_chlorine_g_per_l(6.3, "trade")
    found = solutions.dilution_result_mg_per_l(strength, 1000 * GALLON_L, 10_000 * GALLON_L)
    assert found == pytest.approx(6.3)


@outside(Kind.WORKED, "water-works rule: a gallon of 12.5 trade per cent holds about a pound of chlorine")
def test_a_gallon_of_liquid_chlorine_holds_a_pound() -> None:
    grams = chlorine.available_chlorine_g_per_l(12.5, "trade") * GALLON_L
    assert grams / POUND_G == pytest.approx(1.0, rel=0.05)


@outside(Kind.MEMORY, "chemistry primer: 250 mL of 1 mol/L made up to 1 L is 0.25 mol/L (C1 V1 = C2 V2)")
def test_the_primers_dilution() -> None:
    assert solutions.stock_volume_ml(250, 1, 1.0) == 250


@outside(Kind.MEMORY, "chemistry primer: 10 mL of 12 mol/L and 90 mL of water is 1.2 mol/L")
def test_the_primers_mixture() -> None:
    assert solutions.mixed_mg_per_l([(12.0, 0.010), (0.0, 0.090)]) == pytest.approx(1.2)


@outside(
    Kind.MEMORY, "alloys and brines by the rule of mixture (Pearson square): 30 and 10 to 18 are 8 to 12"
)
def test_the_square_of_the_rule_of_mixture() -> None:
    assert solutions.mixed_mg_per_l([(30.0, 8.0), (10.0, 12.0)]) == pytest.approx(18.0)
