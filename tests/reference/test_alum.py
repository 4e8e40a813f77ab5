"""Alum against solubility tables, water-works rules and pharmacopoeias."""

import pytest

from service.science import alum
from service.science.substances import equivalent_g
from tests.reference.outside import Kind, outside

CRC = "handbook of chemistry, solubility of KAl(SO4)2 in 100 g of water, from memory"


@pytest.mark.parametrize(
    ("celsius", "anhydrous"), [(0, 3.0), (10, 3.99), (20, 5.9), (30, 8.39), (40, 11.7), (60, 24.8)]
)
@outside(Kind.MEMORY, CRC)
def test_solubility_holds_as_much_anhydrous_salt_as_the_handbook(celsius: float, anhydrous: float) -> None:
    # The other way round: crystals dissolved in 100 g of water, their salt over all the water there then is.
    crystals = alum.solubility_g_per_100_g_water(celsius)
    salt = crystals * 258.205 / 474.388
    assert 100 * salt / (100 + crystals - salt) == pytest.approx(anhydrous, rel=1e-3)


@outside(Kind.TABLE, "Merck-type monograph: 1 g dissolves in 7.2 mL of water")
def test_solubility_at_room_temperature() -> None:
    assert alum.solubility_g_per_100_g_water(25) == pytest.approx(100 / 7.2, rel=0.03)


@outside(Kind.TABLE, "ECHA registration 13568: ammonium alum 112 g/L at 20 °C")
def test_ammonium_alum_dissolves_about_as_well() -> None:
    # A litre of its solution (density 1.046) holds 112 g in 934 g of water: 12.0 g to 100 g.
    assert alum.solubility_g_per_100_g_water(20) == pytest.approx(100 * 112 / 934, rel=0.06)


@pytest.mark.parametrize(
    ("form", "per_mg"),
    [
        pytest.param("aluminium_sulfate_18", 0.45, marks=outside(Kind.MEMORY, "water works: 0.45 of 18 H2O")),
        pytest.param("aluminium_sulfate_14", 0.50, marks=outside(Kind.MEMORY, "water works: 0.50 of 14 H2O")),
    ],
)
def test_alkalinity_used_up_as_water_works_reckon(form: str, per_mg: float) -> None:
    assert alum.alkalinity_used_mg_per_l(0.001, form) == pytest.approx(per_mg, rel=0.011)


@pytest.mark.parametrize(
    ("form", "percent"),
    [("potassium_alum", 10.77), ("aluminium_sulfate_18", 15.3), ("aluminium_sulfate_14", 17.1)],
)
@outside(Kind.MEMORY, "trade grades by alumina: 10.8 % Al2O3 for potash alum, 15.3 and 17.1 for the sulfates")
def test_alumina_of_the_trades_alums(form: str, percent: float) -> None:
    alumina = alum.aluminium_mg_per_l(1, form) / 1000 * 101.961 / (2 * 26.982)
    assert 100 * alumina == pytest.approx(percent, rel=0.01)


@outside(Kind.PRACTICE, "common practice, no source: burnt alum is a little over half the weight of alum")
def test_burnt_alum_is_stronger() -> None:
    assert 0.5 < equivalent_g(1, "potassium_alum", "burnt_potassium_alum") < 0.6


@outside(Kind.MEMORY, "bulk density of powdered alum, 0.80 to 1.05 g/mL, from memory")
def test_a_tablespoon_of_powder() -> None:
    # 11.8 to 15.5 g; the estimate of 13.3 g with its ±15 % covers it.
    low, high = alum.spooned_g(1, 0.80), alum.spooned_g(1, 1.05)
    assert 0.85 * alum.spooned_g(1) <= low < high <= 1.17 * alum.spooned_g(1)


@outside(Kind.PAPER, "Melanoides tuberculata and metals: aluminium LC50 68.2 mg/L at 96 h")
def test_a_soak_holds_more_aluminium_than_kills_half_of_a_hard_snail_in_four_days() -> None:
    assert alum.aluminium_mg_per_l(3.5) > 2 * 68.2
    # But less than its LC50 of 306.9 mg/L at 48 h: a day or two of soaking is not enough.
    assert alum.aluminium_mg_per_l(3.5) < 306.9
