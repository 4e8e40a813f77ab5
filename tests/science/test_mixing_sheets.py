"""Worked mixing sheets 1 to 15, bleach from label to spent dip; the figures are ours, worked once by hand."""

from decimal import Decimal
from typing import Any

import pytest

from service.science import (
    chlorine,
    measuring,
    neutralising,
    ratios,
    solutions,
    strengths,
)
from service.science.amounts import Amount, convert
from service.science.measuring import DEVICES
from service.science.neutralising import Agent
from service.science.ratios import Dilution

G_525, G_6, G_825 = (chlorine.available_chlorine_g_per_l(p, "naocl_ww") for p in (5.25, 6.0, 8.25))
DIP = ratios.diluted_mg_per_l(G_525, Dilution(1, 19))
BY_NAME = {device.name: device for device in DEVICES}
approx: Any = pytest.approx
GALLON_L, IMPERIAL_GALLON_L, CUP_L = 3.785411784, 4.54609, 0.2365882365
THIOSULFATE: Agent = "sodium_thiosulfate_pentahydrate"


def close(value: float) -> Any:
    return approx(value, rel=1e-3)


def in_unit(millilitres: float, unit: str) -> float:
    return float(convert(Amount(Decimal(str(millilitres)), "mL"), unit).value)


def test_1_a_label_of_8_25_per_cent() -> None:
    assert close(87.75) == G_825
    assert strengths.to_percent_by_volume(G_825) == close(8.775)
    assert strengths.mol_per_l(G_825, "chlorine") == close(1.2376)


def test_2_one_part_and_nineteen_in_ten_litres() -> None:
    assert ratios.stock_and_water_ml(Dilution(1, 19), 10_000) == approx((500, 9500))
    assert close(2678) == DIP


def test_3_the_same_dip_from_stronger_bleach() -> None:
    wanted = solutions.stock_volume_ml(DIP, 10, G_825)
    assert wanted == close(305.2)
    measured = measuring.measurable(wanted, BY_NAME["500 mL cylinder"])
    assert measured.value == 305
    assert measured.relative_error == approx(-0.0008, abs=1e-4)
    assert ratios.diluted_mg_per_l(G_825, Dilution(1, 19)) / DIP - 1 == approx(0.638, abs=1e-3)


def test_4_one_part_and_nineteen_in_a_us_gallon() -> None:
    total_ml = 1000 * GALLON_L
    wanted, _ = ratios.stock_and_water_ml(Dilution(1, 19), total_ml)
    assert wanted == close(189.27)
    shown = [in_unit(wanted, unit) for unit in ("[cup_us]", "[foz_us]", "[tbs_us]")]
    assert shown == approx([0.8, 6.4, 12.8])
    cups = measuring.measurable(wanted, BY_NAME["¼ cup"])
    assert solutions.dilution_result_mg_per_l(G_6, cups.value, GALLON_L) == close(2899)
    assert cups.relative_error == approx(-0.0625, abs=1e-4)
    spoons = measuring.measurable(wanted, BY_NAME["tablespoon"])
    assert (spoons.steps, spoons.relative_error) == (13, approx(0.0156, abs=1e-4))
    assert solutions.dilution_result_mg_per_l(G_6, spoons.value, GALLON_L) == close(3141)


def test_5_a_cup_and_nineteen_cups() -> None:
    assert close(4.732) == 20 * CUP_L
    assert approx(1.25) == 20 * CUP_L / GALLON_L
    assert solutions.dilution_result_mg_per_l(G_6, 1000 * CUP_L, 20 * CUP_L) == close(3093)


def test_6_three_quarters_of_a_part_of_concentrated_bleach() -> None:
    found = ratios.diluted_mg_per_l(G_825, Dilution(0.75, 19))
    assert found == close(3332)
    assert found / ratios.diluted_mg_per_l(G_6, Dilution(1, 19)) - 1 == approx(0.0775, abs=1e-3)
    assert found / DIP - 1 == approx(0.244, abs=1e-3)


def test_7_aged_half_a_year_at_25_degrees() -> None:
    aged = chlorine.aged_g_per_l(G_825, [(180, 25)])
    assert aged == close(59.80)
    wanted = solutions.stock_volume_ml(DIP, 10, aged)
    assert wanted == close(447.9)
    measured = measuring.measurable(wanted, BY_NAME["500 mL cylinder"])
    assert (measured.value, measured.relative_error) == (450, approx(0.0046, abs=2e-4))
    young = solutions.dilution_result_mg_per_l(aged, 305, 10)
    assert young == close(1824)
    assert young / DIP - 1 == approx(-0.319, abs=1e-3)


def test_8_a_hot_month_and_a_cool_winter() -> None:
    aged = chlorine.aged_g_per_l(G_825, [(30, 35), (150, 20)])
    assert aged == close(58.68)
    wanted = solutions.stock_volume_ml(DIP, 10, aged)
    assert wanted == close(456.5)
    measured = measuring.measurable(wanted, BY_NAME["500 mL cylinder"])
    assert (measured.value, measured.relative_error) == (455, approx(-0.0032, abs=2e-4))


def test_9_a_year_old_bottle_of_6_per_cent() -> None:
    aged = chlorine.aged_g_per_l(G_6, [(365, 20)])
    assert ratios.diluted_mg_per_l(aged, Dilution(1, 19)) == close(2467)
    fresh = ratios.diluted_mg_per_l(G_6, Dilution(1, 19))
    assert ratios.parts_stock_with(19, fresh, aged).parts_stock == close(1.271)


def test_10_the_imperial_gallon_is_larger() -> None:
    right, _ = ratios.stock_and_water_ml(Dilution(1, 19), 1000 * IMPERIAL_GALLON_L)
    wrong, _ = ratios.stock_and_water_ml(Dilution(1, 19), 1000 * GALLON_L)
    assert right == close(227.30)
    assert wrong / right - 1 == approx(-0.167, abs=1e-3)


def test_11_added_to_is_not_made_up_to() -> None:
    added = solutions.dilution_result_mg_per_l(G_525, 500, 10.5)
    assert added == close(2551)
    assert added / DIP - 1 == approx(-0.048, abs=5e-4)
    assert solutions.added_stock_volume_ml(DIP, 10, G_525) == close(526.3)


def test_12_three_rinses_or_one_and_its_neutraliser() -> None:
    dip = ratios.diluted_mg_per_l(G_6, Dilution(1, 19))
    assert solutions.rinse_series(dip, 0.2, [10] * 3) == approx([60.64, 1.189, 0.0233], rel=2e-3)
    assert solutions.rinses_until(dip, 0.2, 10, neutralising.ACCEPTED_MG_PER_L) == 3
    held_g = dip * 0.2 / 1000
    assert held_g == close(0.6185)
    per_gram = neutralising.stoichiometric_g_per_g
    found = [held_g * per_gram(THIOSULFATE, mol) for mol in (0.5, 1)] + [held_g * per_gram("ascorbic_acid")]
    assert found == approx([4.33, 2.16, 1.54], rel=3e-3)


def test_13_a_spent_dip_of_ten_litres() -> None:
    chlorine_g = 26.78
    per_gram = neutralising.stoichiometric_g_per_g
    found = [chlorine_g * per_gram(THIOSULFATE, mol) for mol in (4, 1, 0.5)]
    assert found == approx([23.4, 93.8, 187.5], rel=3e-3)
    agents = ("ascorbic_acid", "sodium_ascorbate", "sodium_sulfite", "sodium_bisulfite")
    assert [chlorine_g * per_gram(agent) for agent in agents] == approx([66.5, 74.8, 47.6, 39.3], rel=2e-3)
    assert neutralising.bicarbonate_g(chlorine_g) == approx(15.9, rel=5e-3)
    assert neutralising.heating_k(2678) == approx(2.8, abs=0.05)
    # What the sheet prints carries its safety: 3.5 x 1.1.
    assert neutralising.neutraliser_g(THIOSULFATE, 2678, 10, "disposal") == approx(103, rel=2e-3)


def test_14_tap_water_for_a_tub() -> None:
    grams = neutralising.neutraliser_g(THIOSULFATE, 2, 40, "rinse")
    assert grams == close(0.560)
    assert solutions.stock_volume_ml(1000 * grams / 40, 40, 100) == close(5.60)
    assert neutralising.chlorine_taken_mg(5.60) == close(80)


def test_15_drops_of_a_tenth_stock() -> None:
    drop_ml = 0.05
    assert neutralising.chlorine_taken_mg(drop_ml) / 2 == approx(0.357, rel=1e-3)
