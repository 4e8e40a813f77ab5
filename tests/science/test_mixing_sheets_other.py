"""Worked mixing sheets 16 to 35, the other dips and slips; the figures are ours, worked once by hand."""

from decimal import Decimal
from typing import Any

import pytest

from service.science import (
    alum,
    carbonation,
    chlorine,
    contact,
    copper,
    measuring,
    permanganate,
    peroxide,
    ratios,
    solutions,
    substances,
)
from service.science.amounts import Amount, convert
from service.science.measuring import DEVICES
from service.science.ratios import Dilution

approx: Any = pytest.approx
DIP = ratios.diluted_mg_per_l(chlorine.available_chlorine_g_per_l(5.25, "naocl_ww"), Dilution(1, 19))
BY_NAME = {device.name: device for device in DEVICES}
GALLON_L = 3.785411784


def close(value: float) -> Any:
    return pytest.approx(value, rel=1e-3)


def in_unit(millilitres: float, unit: str) -> float:
    return float(convert(Amount(Decimal(str(millilitres)), "mL"), unit).value)


def test_16_alum_for_twelve_litres() -> None:
    assert solutions.mass_g(3500, 12) == approx(42.0)
    assert alum.aluminium_mg_per_l(3.5) == close(199.1)
    assert alum.alkalinity_used_mg_per_l(3.5) == close(1108)


def test_17_alum_for_five_gallons_by_the_spoon() -> None:
    grams = solutions.mass_g(3500, 5 * GALLON_L)
    assert grams == close(66.24)
    found = alum.spoons(grams)
    assert found.estimate == close(4.98)
    assert 5 / found.estimate - 1 == approx(0.0045, abs=2e-4)
    assert found.high / found.estimate - 1 == approx(0.15)


def test_18_other_alums_for_the_same_aluminium() -> None:
    forms = ("ammonium_alum", "aluminium_sulfate_18", "burnt_potassium_alum")
    found = [substances.equivalent_g(42, "potassium_alum", form) for form in forms]
    assert found == approx([40.14, 29.50, 22.86], rel=1e-3)


def test_19_copper_from_a_stock_rather_than_a_balance() -> None:
    assert solutions.stock_volume_ml(0.4, 40, 1.0) == approx(16.0)
    grams = copper.salt_g(0.4, 40)
    assert grams == close(0.06287)
    weighed = measuring.measurable(grams, BY_NAME["0.01 g balance"])
    assert (weighed.steps, weighed.relative_error) == (6, approx(-0.046, abs=5e-4))


def test_20_copper_from_a_liquid_of_18_grams_to_the_litre() -> None:
    wanted = solutions.stock_volume_ml(0.5, 40, 18)
    assert wanted == close(1.111)
    measured = measuring.measurable(wanted, BY_NAME["1 mL syringe"])
    assert (measured.value, measured.relative_error) == (approx(1.10), approx(-0.01, abs=1e-3))
    drops = convert(Amount(Decimal(str(wanted)), "mL"), "[drp]", drop_ml=Decimal("0.05"))
    assert float(drops.value) == approx(22.2, abs=0.05)


def test_21_a_full_change_of_copper_water() -> None:
    after = solutions.after_water_change(0.35, 1.0)
    assert after == approx(0.007)
    dose = solutions.redose_mg(40, 0.5, after)
    assert (dose, dose / 18) == (close(19.72), close(1.096))
    measured = measuring.measurable(dose / 18, BY_NAME["1 mL syringe"])
    assert after + measured.value * 18 / 40 == close(0.502)


def test_22_half_a_change_of_copper_water() -> None:
    after = solutions.after_water_change(0.30, 0.5)
    dose = solutions.redose_mg(40, 0.5, after)
    assert (after, dose, dose / 18) == (approx(0.15), approx(14.0), close(0.778))
    measured = measuring.measurable(dose / 18, BY_NAME["1 mL syringe"])
    found = after + measured.value * 18 / 40
    assert (found, found / 0.5 - 1) == (close(0.510), approx(0.02, abs=1e-3))


def test_23_a_change_without_a_reading() -> None:
    before = solutions.decayed_mg_per_l(0.5, copper.USUAL_DECAY_PER_DAY, 3.5)
    after = solutions.after_water_change(before, 0.5)
    assert (before, after) == (close(0.2958), close(0.1479))
    assert solutions.redose_mg(40, 0.5, after) == close(14.08)


def test_24_blind_full_doses() -> None:
    assert copper.blind_level_mg_per_l(0.5, 4, 0.5) == approx(0.9375)
    assert copper.blind_limit_mg_per_l(0.5, 0.5) == approx(1.0)
    assert copper.blind_limit_mg_per_l(0.5, 0.5, 0.15, 3.5) == close(0.710)


def test_25_too_much_copper() -> None:
    assert solutions.redose_mg(40, 0.5, 0.90) == 0
    assert copper.change_to_reach(0.90, 0.5) == close(0.4444)


def test_26_permanganate_and_what_ends_it() -> None:
    wanted_mg = 20 * 15
    assert solutions.stock_volume_ml(20, 15, 10) == approx(30.0)
    assert permanganate.peroxide_mg(wanted_mg) / 30 == close(5.38)
    assert permanganate.peroxide_mg(wanted_mg, "neutral") / 30 == close(3.23)
    assert permanganate.peroxide_ml(wanted_mg) == approx(6.7, abs=0.03)
    assert permanganate.thiosulfate_mg(wanted_mg) == approx(177, rel=2e-3)


def test_27_permanganate_by_the_drop() -> None:
    wanted_mg = 10 * GALLON_L
    assert wanted_mg == close(37.85)
    drops = solutions.stock_volume_ml(10, GALLON_L, 285 / GALLON_L) / 0.05
    assert drops == close(10.06)


def test_28_peroxide_of_two_strengths() -> None:
    assert solutions.stock_volume_ml(1500, 5, peroxide.from_percent_wv(3)) == approx(250)
    assert solutions.stock_volume_ml(1500, 5, peroxide.from_percent_ww(12, 1.042)) == close(60.0)


def test_29_peroxide_of_three_quarters_of_a_per_cent() -> None:
    assert solutions.stock_volume_ml(7500, 5, peroxide.from_percent_wv(3)) == approx(1250)
    assert ratios.dilution_to(7500, 30) == Dilution(1, 3)


def test_30_salt() -> None:
    grams = solutions.mass_g(35_000, 8)
    assert grams == approx(280)
    assert carbonation.salt_tablespoons(grams) == approx(15.6, abs=0.05)


def test_31_a_strip_overrides_the_label() -> None:
    strength = chlorine.strip_strength_g_per_l(75)
    assert strength == approx(75, rel=2e-3)
    assert solutions.stock_volume_ml(DIP, 10, strength) == approx(357, rel=1.5e-3)


def test_32_ten_trade_per_cent() -> None:
    strength = chlorine.available_chlorine_g_per_l(10, "trade")
    assert ratios.diluted_mg_per_l(strength, Dilution(1, 19)) == approx(5000)
    assert solutions.stock_volume_ml(DIP, 10, strength) == close(267.9)


def test_33_the_same_contact_in_less_time() -> None:
    product = contact.contact_product(DIP, 2)
    assert product == close(5357)
    assert 60 * contact.minutes_for(product, 4388) == close(73.3)


def test_34_one_to_ten_has_two_readings() -> None:
    assert ratios.difference(Dilution(1, 9), Dilution(1, 10)) == approx(-0.091, abs=1e-3)


def test_35_slips_of_the_spoon() -> None:
    slips = (("tbs_au", "[tbs_us]", 0.353), ("[tsp_m]", "[tsp_us]", 0.0144), ("cup_au", "[cup_us]", 0.0567))
    for taken, meant, error in slips:
        millilitres = float(convert(Amount(Decimal(1), taken), "mL").value)
        assert in_unit(millilitres, meant) - 1 == approx(error, abs=5e-4)
