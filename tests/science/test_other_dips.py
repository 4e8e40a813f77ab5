"""Permanganate, peroxide, salt, carbonated water, gas in a room, hypochlorous acid."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science import carbonation, gases, hypochlorous, permanganate, peroxide
from service.science.domain import OutOfDomain
from service.science.tables import interpolated


def test_a_table_is_read_between_its_rows() -> None:
    rows = ((0.0, 1.0), (10.0, 3.0), (30.0, 7.0))
    found = [interpolated("x", value, rows) for value in (0, 5, 10, 20, 30)]
    assert found == pytest.approx([1, 2, 3, 5, 7])
    for outside in (-0.1, 30.1):
        with pytest.raises(OutOfDomain, match=r"x must lie between 0\.0 and 30\.0"):
            interpolated("x", outside, rows)


def test_permanganate_dissolves_poorly_in_the_cold() -> None:
    assert permanganate.solubility_g_per_100_g_water(20) == 6.4
    assert permanganate.solubility_g_per_100_g_water(25) == pytest.approx(7.35)
    for refused in (-1, 41):
        with pytest.raises(OutOfDomain):
            permanganate.solubility_g_per_100_g_water(refused)


def test_a_stock_of_permanganate_stays_dissolved() -> None:
    assert permanganate.stock_g(10, 0.5) == 5
    assert permanganate.stock_g(40, 1) == 40
    with pytest.raises(OutOfDomain, match="stock_g_per_l must lie between 0 and 40"):
        permanganate.stock_g(40.1, 1)
    assert permanganate.STRONGEST_STOCK.grade == "assumption"


def test_permanganate_is_taken_up_by_peroxide_or_thiosulfate() -> None:
    # 2.5 x 34.0147 / 158.034 = 0.5381, 1.5 for neutral water 0.3229, 3/8 x 248.184 / 158.034 = 0.5889.
    assert permanganate.peroxide_mg(300) == pytest.approx(161.4, rel=1e-3)
    assert permanganate.peroxide_mg(300, "neutral") == pytest.approx(96.9, rel=1e-3)
    assert permanganate.peroxide_ml(300) == pytest.approx(6.726, rel=1e-3)
    assert permanganate.peroxide_ml(300, 60) == pytest.approx(3.363, rel=1e-3)
    assert permanganate.peroxide_ml(300, 1) == pytest.approx(201.8, rel=1e-3)
    assert permanganate.peroxide_ml(300, 120) == pytest.approx(1.682, rel=1e-3)
    assert permanganate.thiosulfate_mg(300) == pytest.approx(176.7, rel=1e-3)


def test_peroxide_is_said_in_three_ways() -> None:
    assert peroxide.from_percent_wv(3) == 30
    assert peroxide.from_percent_ww(12, 1.042) == pytest.approx(125.04)
    assert (peroxide.from_percent_wv(0.5), peroxide.from_percent_ww(0.5, 1.0)) == (5, 5)
    assert peroxide.from_volumes(0.5) == pytest.approx(1.518, rel=1e-3)
    assert peroxide.from_volumes(10) == pytest.approx(30.35, rel=1e-3)
    assert peroxide.from_volumes(40) == pytest.approx(121.4, rel=1e-3)
    assert peroxide.STRONGEST.grade == "assumption"


@pytest.mark.parametrize(
    ("parameter", "refused"),
    [
        ("percent", lambda: peroxide.from_percent_wv(12.1)),
        ("percent", lambda: peroxide.from_percent_wv(0)),
        ("percent", lambda: peroxide.from_percent_ww(12.1, 1.04)),
        ("density_g_per_ml", lambda: peroxide.from_percent_ww(12, None)),
        ("volumes", lambda: peroxide.from_volumes(40.1)),
        ("volumes", lambda: peroxide.from_volumes(0)),
        ("permanganate_mg", lambda: permanganate.peroxide_mg(-1)),
        ("permanganate_mg", lambda: permanganate.thiosulfate_mg(-1)),
        ("peroxide_g_per_l", lambda: permanganate.peroxide_ml(300, 0.9)),
        ("peroxide_g_per_l", lambda: permanganate.peroxide_ml(300, 121)),
        ("stock_g_per_l", lambda: permanganate.stock_g(-1, 1)),
        ("volume_l", lambda: permanganate.stock_g(1, -1)),
        ("salt_g", lambda: carbonation.salt_tablespoons(-1)),
        ("volumes", lambda: carbonation.carbon_dioxide_g_per_l(-1)),
        ("water_l", lambda: carbonation.released_l(3.5, 0)),
        ("water_l", lambda: carbonation.released_room_ppm(3.5, 0, 20)),
        ("room_m3", lambda: carbonation.released_room_ppm(3.5, 10, 0)),
        ("celsius", lambda: gases.molar_volume_l(-50.1)),
        ("celsius", lambda: gases.molar_volume_l(100.1)),
        ("grams", lambda: gases.gas_l(-1, "chlorine")),
        ("bleach_ml", lambda: gases.chlorine_room_ppm(-1, 60, 20)),
        ("available_chlorine_g_per_l", lambda: gases.chlorine_room_ppm(1, 0, 20)),
        ("room_m3", lambda: gases.chlorine_room_ppm(1, 60, 0)),
        ("ppm", lambda: gases.bleach_ml_for_ppm(-1, 60, 20)),
        ("available_chlorine_g_per_l", lambda: gases.bleach_ml_for_ppm(1, 0, 20)),
        ("room_m3", lambda: gases.bleach_ml_for_ppm(1, 60, 0)),
        ("celsius", lambda: hypochlorous.hypochlorous_pka(-0.1)),
        ("celsius", lambda: hypochlorous.hypochlorous_pka(35.1)),
        ("ph", lambda: hypochlorous.hypochlorous_share(-0.1, 20)),
        ("ph", lambda: hypochlorous.hypochlorous_share(14.1, 20)),
    ],
)
def test_figures_without_sense_are_refused_by_name(parameter: str, refused: Callable[[], object]) -> None:
    with pytest.raises(OutOfDomain) as refusal:
        refused()
    assert refusal.value.parameter == parameter


def test_salt_comes_in_spoons_of_eighteen_grams() -> None:
    assert carbonation.salt_tablespoons(280) == pytest.approx(15.56, rel=1e-3)
    assert carbonation.SPOON_OF_SALT.grade == "memory"


def test_carbonated_water_gives_off_its_gas() -> None:
    # 3.5 x 44.010 / 22.414 = 6.872 g/L; 10 L of it 37.6 L of gas at 20 °C, 1880 ppm of 20 m3.
    assert carbonation.carbon_dioxide_g_per_l(3.5) == pytest.approx(6.872, rel=1e-3)
    assert carbonation.released_l(3.5, 10) == pytest.approx(37.6, rel=2e-3)
    assert carbonation.released_l(1, 1, 0) == pytest.approx(1, rel=1e-4)
    assert carbonation.released_room_ppm(3.5, 10, 20) == pytest.approx(1880, rel=2e-3)
    assert carbonation.released_room_ppm(3.5, 10, 20, 0) == pytest.approx(1750, rel=2e-3)
    assert carbonation.released_l(3.5, 10) == carbonation.released_l(3.5, 10, 20.0)
    assert carbonation.released_room_ppm(3.5, 10, 20) == carbonation.released_room_ppm(3.5, 10, 20, 20.0)
    assert carbonation.LEFT_OPEN.value == 1.69


def test_a_little_bleach_fills_a_room_with_chlorine() -> None:
    assert gases.molar_volume_l() == gases.molar_volume_l(25)
    assert gases.bleach_ml_for_ppm(10, 87.75, 20) == pytest.approx(6.6, rel=2e-3)
    assert gases.bleach_ml_for_ppm(0.5, 87.75, 20) == pytest.approx(0.33, rel=2e-3)
    assert gases.chlorine_room_ppm(100, 87.75, 20) == pytest.approx(151, rel=5e-3)
    assert gases.gas_l(8.775, "chlorine") == pytest.approx(3.03, rel=2e-3)
    assert gases.room_ppm(26.78, "chlorine", 20) == pytest.approx(462, rel=2e-3)


@given(st.floats(0, 1000), st.floats(1, 160), st.floats(1, 1000))
def test_ppm_and_millilitres_of_bleach_are_two_ways_to_say_it(
    ppm: float, g_per_l: float, room: float
) -> None:
    millilitres = gases.bleach_ml_for_ppm(ppm, g_per_l, room)
    assert gases.chlorine_room_ppm(millilitres, g_per_l, room) == pytest.approx(ppm)


def test_limits_say_how_well_they_are_known() -> None:
    assert {key: figure.value for key, figure in gases.LIMITS.items()} == {
        ("chlorine", "ceiling"): 0.5,
        ("chlorine", "danger"): 10,
        ("carbon_dioxide", "day"): 5000,
        ("carbon_dioxide", "danger"): 40_000,
        ("sulfur_dioxide", "danger"): 100,
    }
    assert {figure.grade for figure in gases.LIMITS.values()} == {"published", "memory"}


@pytest.mark.parametrize(
    ("ph", "share"), [(6, 0.9745), (7, 0.7924), (7.5, 0.5469), (8, 0.2763), (10, 0.0038)]
)
def test_hypochlorous_acid_gives_way_to_hypochlorite(ph: float, share: float) -> None:
    assert hypochlorous.hypochlorous_share(ph, 20) == pytest.approx(share, abs=1e-4)


def test_at_the_pka_half_of_it_is_acid() -> None:
    pka = hypochlorous.hypochlorous_pka(25)
    assert hypochlorous.hypochlorous_share(pka, 25) == pytest.approx(0.5)
    assert hypochlorous.hypochlorous_pka(0) > pka > hypochlorous.hypochlorous_pka(35)


@given(st.floats(0, 13.9), st.floats(0, 35))
def test_more_lye_leaves_less_acid(ph: float, celsius: float) -> None:
    assert hypochlorous.hypochlorous_share(ph + 0.1, celsius) < hypochlorous.hypochlorous_share(ph, celsius)
