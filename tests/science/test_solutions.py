"""Mixing and re-dosing against worked sheets and conservation of mass."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science import solutions
from service.science.domain import OutOfDomain
from service.science.substances import element_share

# Stock strengths of labelled bleach, g/L available chlorine; see test_chlorine for where they come from.
G_525, G_6, G_825 = 53.57, 61.85, 87.75
volumes = st.floats(0.1, 1000)
strengths = st.floats(1, 160)
targets = st.floats(0, 900)


@pytest.mark.parametrize(
    ("target", "total_l", "stock", "millilitres"),
    [
        (2678, 10, G_525, 500),  # 1 part and 19 parts water
        (2678, 10, G_825, 305.2),
        (3093, 3.785411784, G_6, 189.27),  # a US gallon: 0.8 cup
        (3093, 4.54609, G_6, 227.30),  # an imperial gallon
        (2678, 10, 59.80, 447.9),
        (0.4, 40, 1, 16),
        (0.5, 40, 18, 1.111),
        (20, 15, 10, 30),  # 300 mg of permanganate from a 1 % stock
        (1500, 5, 30, 250),  # peroxide of 3 % w/v
    ],
)
def test_making_up_to_a_volume_is_c1_v1_equals_c2_v2(
    target: float, total_l: float, stock: float, millilitres: float
) -> None:
    # Worked by hand from C1 V1 = C2 V2 (any chemistry primer).
    assert solutions.stock_volume_ml(target, total_l, stock) == pytest.approx(millilitres, rel=1e-3)


def test_adding_to_water_takes_ten_nineteenths_of_a_litre_for_one_in_twenty() -> None:
    assert solutions.added_stock_volume_ml(2678.5, 10, G_525) == pytest.approx(10_000 / 19, rel=1e-9)


def test_half_a_litre_added_to_ten_falls_five_per_cent_short() -> None:
    assert solutions.dilution_result_mg_per_l(G_525, 500, 10.5) == pytest.approx(2551, rel=1e-3)
    assert solutions.dilution_result_mg_per_l(G_525, 500, 10) == pytest.approx(2678, rel=1e-3)


def test_solids_are_weighed_by_their_active_part() -> None:
    assert solutions.mass_g(3500, 12) == pytest.approx(42.0)
    # 16 mg of copper are 62.87 mg of CuSO4.5H2O.
    copper_g = solutions.mass_g(0.4, 40, element_share("copper_sulfate_pentahydrate"))
    assert copper_g == pytest.approx(0.06287, rel=1e-3)
    alum_g = solutions.mass_g(199.1, 12, element_share("potassium_alum"))
    assert alum_g == pytest.approx(42.0, rel=1e-3)


def test_each_rinse_thins_what_is_carried_over() -> None:
    # 0.2 L carried into 10 L: times 0.2 / 10.2 each.
    assert solutions.rinse_series(3093, 0.2, [10, 10, 10]) == pytest.approx([60.64, 1.189, 0.0233], rel=2e-3)
    assert solutions.rinse_series(3093, 0.2, []) == []


@pytest.mark.parametrize(
    ("before", "fraction", "after", "dose_mg"),
    [
        (0.35, 1.0, 0.007, 19.72),  # 2 % stay behind
        (0.30, 0.5, 0.15, 14.0),
        (0.90, 0.0, 0.90, 0.0),  # above the target: nothing is dosed
        (0.90, 0.4444, 0.50, 0.0),  # the change that brings it back
    ],
)
def test_a_water_change_is_dosed_for_what_it_took_away(
    before: float, fraction: float, after: float, dose_mg: float
) -> None:
    found = solutions.after_water_change(before, fraction)
    assert found == pytest.approx(after, rel=1e-3)
    assert solutions.redose_mg(40, 0.5, found) == pytest.approx(dose_mg, rel=1e-3, abs=2e-3)


def test_without_a_reading_the_dose_counts_on_decay() -> None:
    # 0.5 exp(-0.15 x 3.5) = 0.2958; half of it changed; 40 (0.5 - 0.1479) = 14.08 mg.
    before = solutions.decayed_mg_per_l(0.5, 0.15, 3.5)
    after = solutions.after_water_change(before, 0.5)
    assert (before, after) == pytest.approx((0.2958, 0.1479), rel=1e-3)
    assert solutions.redose_mg(40, 0.5, after) == pytest.approx(14.08, rel=1e-3)


def test_blind_full_doses_at_half_changes_pile_up_to_twice_the_target() -> None:
    # Geometric series: D (1 - q^n) / (1 - q) with q = 0.5; 0.9375 after four doses of 0.5.
    level = 0.0
    for _ in range(4):
        level = solutions.after_water_change(level, 0.5) + 0.5
    assert level == pytest.approx(0.9375)


def test_new_water_brings_its_own() -> None:
    assert solutions.after_water_change(0.4, 0.5, 0.1) == pytest.approx(0.25)


def test_solutions_poured_together_keep_their_mass() -> None:
    # 2 L of 300 mg/L and 1 L of 0: 600 mg in 3 L.
    assert solutions.mixed_mg_per_l([(300, 2), (0, 1)]) == pytest.approx(200)
    assert solutions.mixed_mg_per_l([(300, 2), (900, 0)]) == pytest.approx(300)


@given(st.lists(st.tuples(st.floats(0, 1e5), st.floats(0.01, 100)), min_size=1, max_size=5))
def test_a_mixture_is_neither_weaker_nor_stronger_than_its_parts(parts: list[tuple[float, float]]) -> None:
    found = solutions.mixed_mg_per_l(parts)
    total_l = sum(litres for _, litres in parts)
    assert found * total_l == pytest.approx(sum(level * litres for level, litres in parts))
    assert found == pytest.approx(solutions.mixed_mg_per_l(parts[::-1]))
    levels = [level for level, _ in parts]
    assert min(levels) * (1 - 1e-9) <= found <= max(levels) * (1 + 1e-9)


@pytest.mark.parametrize(
    ("start", "limit", "rinses"),
    [
        (3093, 0.1, 3),  # 60.6, 1.19, 0.023
        (3093, 2, 2),
        (0.1, 0.1, 1),  # at the limit is not below it
        (0.0999, 0.1, 0),
        (0, 0.1, 0),
    ],
)
def test_plain_rinses_are_counted_until_below_the_limit(start: float, limit: float, rinses: int) -> None:
    assert solutions.rinses_until(start, 0.2, 10, limit) == rinses


def test_twenty_rinses_are_enough_or_it_is_the_wrong_way() -> None:
    # Halved by each: 2^-20 is just below one in a million, 2^-19 is not.
    assert solutions.rinses_until(1, 1, 1, 1e-6) == 20
    with pytest.raises(OutOfDomain, match="20 rinses are not enough") as refusal:
        solutions.rinses_until(1, 1, 1, 9e-7)
    assert refusal.value.parameter == "carry_over_l"


@given(targets, volumes, strengths)
def test_what_is_poured_gives_the_target_again(target: float, total_l: float, stock: float) -> None:
    poured = solutions.stock_volume_ml(target, total_l, stock)
    assert solutions.dilution_result_mg_per_l(stock, poured, total_l) == pytest.approx(target, rel=1e-9)
    added = solutions.added_stock_volume_ml(target, total_l, stock)
    whole_l = total_l + added / 1000
    assert solutions.dilution_result_mg_per_l(stock, added, whole_l) == pytest.approx(target, rel=1e-9)
    assert added >= poured


@given(targets, volumes, st.floats(0.1, 1), st.floats(1.1, 9))
def test_amounts_grow_with_the_volume(target: float, volume_l: float, content: float, times: float) -> None:
    one = solutions.mass_g(target, volume_l, content)
    assert solutions.mass_g(target, times * volume_l, content) == pytest.approx(times * one)


@given(st.floats(0, 10), st.floats(0, 1), volumes, st.floats(0, 10))
def test_a_dose_is_never_negative_and_restores_the_target(
    before: float, fraction: float, volume_l: float, target: float
) -> None:
    after = solutions.after_water_change(before, fraction)
    dose = solutions.redose_mg(volume_l, target, after)
    assert dose >= 0
    assert after + dose / volume_l == pytest.approx(max(after, target))


@given(st.floats(0, 10), volumes)
def test_after_a_full_change_without_carry_over_the_dose_is_the_first_one(
    before: float, volume_l: float
) -> None:
    after = solutions.after_water_change(before, 1.0, carry_over=0.0)
    assert solutions.redose_mg(volume_l, 0.5, after) == volume_l * 0.5


@pytest.mark.parametrize(
    ("parameter", "refused"),
    [
        ("target_mg_per_l", lambda: solutions.stock_volume_ml(-1, 10, 50)),
        ("target_mg_per_l", lambda: solutions.stock_volume_ml(50_001, 10, 50)),
        ("total_volume_l", lambda: solutions.stock_volume_ml(1, 0, 50)),
        ("stock_g_per_l", lambda: solutions.stock_volume_ml(1, 10, float("nan"))),
        ("target_mg_per_l", lambda: solutions.added_stock_volume_ml(50_000, 10, 50)),
        ("water_volume_l", lambda: solutions.added_stock_volume_ml(1, -1, 50)),
        ("content_fraction", lambda: solutions.mass_g(1, 1, 0)),
        ("stock_ml", lambda: solutions.dilution_result_mg_per_l(50, 10_001, 10)),
        ("rinse_volumes_l", lambda: solutions.rinse_series(1, 0.2, [10, 0])),
        ("carry_over_l", lambda: solutions.rinse_series(1, -0.2, [10])),
        ("fraction", lambda: solutions.after_water_change(1, 1.1)),
        ("carry_over", lambda: solutions.after_water_change(1, 1, carry_over=-0.1)),
        ("new_water_mg_per_l", lambda: solutions.after_water_change(1, 1, -1)),
        ("volume_l", lambda: solutions.redose_mg(0, 1, 1)),
        ("days", lambda: solutions.decayed_mg_per_l(1, 0.15, -1)),
        ("mg_per_l", lambda: solutions.mixed_mg_per_l([(-1, 1)])),
        ("litres", lambda: solutions.mixed_mg_per_l([(1, -1)])),
        ("total_l", lambda: solutions.mixed_mg_per_l([])),
        ("total_l", lambda: solutions.mixed_mg_per_l([(5, 0)])),
        ("limit_mg_per_l", lambda: solutions.rinses_until(1, 0.2, 10, 0)),
        ("start_mg_per_l", lambda: solutions.rinses_until(-1, 0.2, 10, 1)),
    ],
)
def test_figures_without_sense_are_refused_by_name(parameter: str, refused: Callable[[], object]) -> None:
    with pytest.raises(OutOfDomain) as refusal:
        refused()
    assert refusal.value.parameter == parameter
