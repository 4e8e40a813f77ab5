"""The table of substances: shares of elements, reacting masses, salts that stand for one another."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science import substances
from service.science.domain import OutOfDomain
from service.science.substances import SUBSTANCES

COPPER = [name for name, one in SUBSTANCES.items() if one.element == "Cu"]
ALUMINIUM = [name for name, one in SUBSTANCES.items() if one.element == "Al"]


def test_names_on_the_list_are_known_and_no_others() -> None:
    assert substances.substance("chlorine").formula == "Cl2"
    with pytest.raises(OutOfDomain, match=r"must be one of chlorine, .*not 'bleach'"):
        substances.substance("bleach")


def test_doses_of_salts_count_an_element() -> None:
    assert substances.element_share("copper_sulfate_pentahydrate") == pytest.approx(63.546 / 249.685)
    assert substances.element_share("aluminium_sulfate_18") == pytest.approx(2 * 26.982 / 666.426)
    with pytest.raises(OutOfDomain, match="chlorine is counted as it is"):
        substances.element_share("chlorine")


def test_reacting_masses_follow_moles() -> None:
    assert substances.grams_per_gram("sodium_ascorbate", "chlorine") == pytest.approx(198.106 / 70.906)
    assert substances.grams_per_gram("sodium_bicarbonate", "chlorine", 0.5) == pytest.approx(0.592, rel=1e-3)


def test_other_salts_stand_for_one_by_their_element() -> None:
    # 42 g of potassium alum hold 2.389 g of aluminium.
    assert substances.equivalent_g(42, "potassium_alum", "ammonium_alum") == pytest.approx(40.14, rel=1e-3)
    with pytest.raises(OutOfDomain, match="copper_sulfate does not hold") as refusal:
        substances.equivalent_g(1, "potassium_alum", "copper_sulfate")
    assert refusal.value.parameter == "wanted"


@given(st.floats(0, 1e6), st.sampled_from([COPPER, ALUMINIUM]), st.data())
def test_standing_for_another_works_both_ways(grams: float, family: list[str], data: st.DataObject) -> None:
    first, second = data.draw(st.sampled_from(family)), data.draw(st.sampled_from(family))
    there = substances.equivalent_g(grams, first, second)
    assert substances.equivalent_g(there, second, first) == pytest.approx(grams)
    assert there * substances.element_share(second) == pytest.approx(grams * substances.element_share(first))


def test_the_table_names_its_version() -> None:
    assert substances.VERSION == "2026-1"
