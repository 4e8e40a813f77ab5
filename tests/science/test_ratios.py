"""Parts of stock and water: said in full, or refused with what they could mean."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science import ratios
from service.science.domain import OutOfDomain
from service.science.ratios import Dilution

parts = st.floats(0.01, 1000)


@pytest.mark.parametrize(
    ("text", "stock", "water"),
    [("1+19", 1, 19), (" 0.75 + 19 ", 0.75, 19), ("1+31.8", 1, 31.8), ("1+0", 1, 0)],
)
def test_parts_said_in_full_are_read(text: str, stock: float, water: float) -> None:
    assert ratios.read_dilution(text) == Dilution(stock, water)


@pytest.mark.parametrize(
    ("text", "sentence"),
    [
        ("1:20", "1:20 can mean 1+19 (1 part in 20) or 1+20 (-4.8%). Write which one."),
        ("1 / 10", "1:10 can mean 1+9 (1 part in 10) or 1+10 (-9.1%). Write which one."),
        ("0.5:2", "0.5:2 can mean 0.5+1.5 (0.5 part in 2) or 0.5+2 (-20.0%). Write which one."),
        ("3:2", "3:2 is not clear. Write parts of stock + parts of water, like 1+19."),
        ("1:1", "1:1 is not clear. Write parts of stock + parts of water, like 1+19."),
        ("0:1", "0:1 is not clear. Write parts of stock + parts of water, like 1+19."),
    ],
)
def test_a_colon_is_refused_with_both_its_readings(text: str, sentence: str) -> None:
    with pytest.raises(OutOfDomain) as refusal:
        ratios.read_dilution(text)
    assert (refusal.value.parameter, str(refusal.value)) == ("text", sentence)


@pytest.mark.parametrize(
    "text", ["", "1", "1 in 20", "1+", "+19", "-1+19", "1+19+1", "1,5+19", "١+١٩", "1e1+1"]
)
def test_other_texts_are_refused_with_an_example(text: str) -> None:
    with pytest.raises(OutOfDomain, match=r"like 1\+19, not"):
        ratios.read_dilution(text)


@pytest.mark.parametrize(
    ("parameter", "stock", "water"),
    [
        ("parts_stock", 0, 19),
        ("parts_stock", -1, 19),
        ("parts_water", 1, -1),
        ("parts_water", 1, float("inf")),
    ],
)
def test_a_dilution_has_stock_in_it(parameter: str, stock: float, water: float) -> None:
    with pytest.raises(OutOfDomain) as refusal:
        Dilution(stock, water)
    assert refusal.value.parameter == parameter


def test_one_part_and_nineteen_are_a_twentieth() -> None:
    dilution = Dilution(1, 19)
    assert dilution.stock_share == pytest.approx(0.05)
    assert ratios.stock_and_water_ml(dilution, 10_000) == pytest.approx((500, 9500))
    assert ratios.diluted_mg_per_l(53.57, dilution) == pytest.approx(2678.5)
    assert ratios.difference(dilution, Dilution(1, 20)) == pytest.approx(-0.0476, abs=1e-4)


def test_parts_to_a_target() -> None:
    # 87.75 g/L to 3092.5 mg/L (6 % bleach at 1+19): 1 + 27.4, or 0.694 + 19; to 2678.5: 0.598 + 19.
    assert ratios.dilution_to(3092.5, 87.75).parts_water == pytest.approx(27.4, abs=0.05)
    assert ratios.dilution_to(2678.5, 87.75, parts_stock=2).parts_water == pytest.approx(2 * 31.76, rel=1e-3)
    assert ratios.parts_stock_with(19, 3092.5, 87.75).parts_stock == pytest.approx(0.694, abs=5e-4)
    assert ratios.parts_stock_with(19, 2678.5, 87.75).parts_stock == pytest.approx(0.598, abs=5e-4)
    assert ratios.dilution_to(1000, 1) == Dilution(1, 0)


@pytest.mark.parametrize(
    ("parameter", "target", "stock", "water"),
    [
        ("target_mg_per_l", 0, 50, 19),
        ("target_mg_per_l", 50_000, 50, 19),  # nothing to add it to
        ("target_mg_per_l", 50_001, 50, 19),
        ("stock_g_per_l", 100, 0, 19),
        ("parts_water", 100, 50, 0),
    ],
)
def test_parts_that_do_not_exist_are_refused(
    parameter: str, target: float, stock: float, water: float
) -> None:
    with pytest.raises(OutOfDomain) as refusal:
        ratios.parts_stock_with(water, target, stock)
    assert refusal.value.parameter == parameter


def test_amounts_of_nothing_are_refused() -> None:
    refusals: tuple[Callable[[], object], ...] = (
        lambda: ratios.stock_and_water_ml(Dilution(1, 19), 0),
        lambda: ratios.diluted_mg_per_l(0, Dilution(1, 19)),
        lambda: ratios.dilution_to(1, 1, parts_stock=0),
    )
    for refused in refusals:
        with pytest.raises(OutOfDomain):
            refused()
    with pytest.raises(OutOfDomain, match="weaker than the target"):
        ratios.dilution_to(1001, 1)


@given(parts, parts, st.floats(1, 1e6))
def test_stock_and_water_make_the_whole_in_their_parts(stock: float, water: float, total: float) -> None:
    stock_ml, water_ml = ratios.stock_and_water_ml(Dilution(stock, water), total)
    assert stock_ml + water_ml == pytest.approx(total)
    assert stock_ml * water == pytest.approx(water_ml * stock, rel=1e-6, abs=1e-6 * total)


@given(st.floats(0.01, 0.9), st.floats(1, 200), parts)
def test_a_dilution_to_a_target_gives_it(share: float, stock_g_per_l: float, parts_water: float) -> None:
    target = 1000 * stock_g_per_l * share
    for dilution in (
        ratios.dilution_to(target, stock_g_per_l),
        ratios.parts_stock_with(parts_water, target, stock_g_per_l),
    ):
        assert ratios.diluted_mg_per_l(stock_g_per_l, dilution) == pytest.approx(target)
