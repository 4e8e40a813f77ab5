"""What takes chlorine away, against worked stoichiometry."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science import neutralising
from service.science.domain import OutOfDomain
from service.science.neutralising import Agent, Purpose, UnsafeNeutraliser

RISKY: tuple[Agent, ...] = ("ascorbic_acid", "sodium_bisulfite")
SAFE: tuple[Agent, ...] = ("sodium_thiosulfate_pentahydrate", "sodium_ascorbate", "sodium_sulfite")


@pytest.mark.parametrize(
    ("agent", "mg_per_l", "volume_l", "purpose", "grams"),
    [
        # Reaction stoichiometry times the safety of the sheet, worked by hand.
        ("sodium_thiosulfate_pentahydrate", 61.85, 10, "rinse", 4.33),
        ("sodium_thiosulfate_pentahydrate", 2, 40, "rinse", 0.56),
        ("sodium_thiosulfate_pentahydrate", 61.85, 10, "disposal", 4.33),
        ("sodium_thiosulfate_pentahydrate", 2678, 10, "disposal", 103.1),
        ("sodium_thiosulfate_pentahydrate", 2678, 10, "rinse", 187.5),
        ("sodium_ascorbate", 2678, 10, "disposal", 74.8 * 1.1),
        ("sodium_sulfite", 2678, 10, "disposal", 47.6 * 1.1),
        ("ascorbic_acid", 61.85, 10, "rinse", 1.536 * 1.1),
        ("sodium_bisulfite", 100, 10, "disposal", 1.468 * 1.1),
        ("sodium_ascorbate", 0, 10, "rinse", 0),
        ("sodium_thiosulfate_pentahydrate", 100, 10, "disposal", 7.0),  # weak: the sure amount
        ("sodium_thiosulfate_pentahydrate", 100.01, 10, "disposal", 3.85),
    ],
)
def test_the_neutraliser_is_weighed_with_its_excess(
    agent: Agent, mg_per_l: float, volume_l: float, purpose: Purpose, grams: float
) -> None:
    assert neutralising.neutraliser_g(agent, mg_per_l, volume_l, purpose) == pytest.approx(grams, rel=2e-3)


@pytest.mark.parametrize("agent", RISKY)
def test_agents_that_add_acid_never_go_into_strong_bleach(agent: Agent) -> None:
    with pytest.raises(UnsafeNeutraliser, match="chlorine gas"):
        neutralising.neutraliser_g(agent, 100.1, 10, "disposal")


@pytest.mark.parametrize("agent", RISKY + SAFE)
def test_above_5000_mg_per_l_the_dip_is_diluted_first(agent: Agent) -> None:
    with pytest.raises(UnsafeNeutraliser, match="dilute first"):
        neutralising.neutraliser_g(agent, 5000.1, 10, "disposal")


@pytest.mark.parametrize("agent", SAFE)
def test_up_to_5000_mg_per_l_the_safe_agents_serve(agent: Agent) -> None:
    assert neutralising.neutraliser_g(agent, 5000, 10, "disposal") > 0


def test_bicarbonate_takes_up_the_acid_of_thiosulfate() -> None:
    # 2 mol NaHCO3 (84.007) to 4 mol Cl2 (70.906): 0.592 g/g; 26.78 g of chlorine need 15.9 g.
    assert neutralising.bicarbonate_g(26.78) == pytest.approx(15.9, rel=5e-3)
    assert pytest.approx(2 * 84.007 / (4 * 70.906), rel=1e-3) == neutralising.BICARBONATE_G_PER_G
    with pytest.raises(OutOfDomain):
        neutralising.bicarbonate_g(-1)


def test_negative_chlorine_and_empty_tubs_are_refused() -> None:
    with pytest.raises(OutOfDomain):
        neutralising.neutraliser_g("sodium_sulfite", -1, 10, "rinse")
    with pytest.raises(OutOfDomain):
        neutralising.neutraliser_g("sodium_sulfite", 1, 0, "rinse")


@given(st.sampled_from(SAFE), st.floats(0, 5000), st.floats(0.1, 100))
def test_twice_the_water_takes_twice_the_agent(agent: Agent, mg_per_l: float, volume_l: float) -> None:
    one = neutralising.neutraliser_g(agent, mg_per_l, volume_l, "rinse")
    assert neutralising.neutraliser_g(agent, mg_per_l, 2 * volume_l, "rinse") == pytest.approx(2 * one)


def test_stoichiometry_counts_moles_of_chlorine() -> None:
    # 248.184 / 70.906 = 3.500 for one mole.
    per_gram = neutralising.stoichiometric_g_per_g
    assert per_gram("sodium_thiosulfate_pentahydrate") == pytest.approx(3.500, rel=1e-3)
    assert per_gram("sodium_thiosulfate_pentahydrate", 4) == pytest.approx(0.875, rel=1e-3)
    assert per_gram("sodium_thiosulfate_pentahydrate", 0.5) == pytest.approx(7.000, rel=1e-3)
    with pytest.raises(OutOfDomain):
        per_gram("sodium_sulfite", 0)
    with pytest.raises(OutOfDomain):
        per_gram("soap")


@pytest.mark.parametrize("agent", neutralising.OTHER_AGENTS)
def test_each_agent_carries_ten_per_cent_more_than_its_stoichiometry(agent: str) -> None:
    exact = neutralising.stoichiometric_g_per_g(agent)
    assert neutralising.OTHER_AGENTS[agent] / exact == pytest.approx(1.1, rel=1e-3)


@pytest.mark.parametrize(("mg_per_l", "kelvins"), [(2678, 2.78), (4388, 4.56), (87_750, 91.1), (0, 0)])
def test_neutralising_heats_the_water(mg_per_l: float, kelvins: float) -> None:
    # 308.1 kJ/mol: 2.678 / 70.906 x 308.1 / 4.184 = 2.78 K; neat bleach of 8.25 % would boil.
    assert neutralising.heating_k(mg_per_l) == pytest.approx(kelvins, rel=2e-3)


def test_the_heat_follows_from_enthalpies_of_formation() -> None:
    # S2O3(2-) + 4 OCl- + 2 OH- -> 2 SO4(2-) + 4 Cl- + H2O, kJ/mol, recalled from tables.
    before = -652.3 + 4 * -107.1 + 2 * -230.0
    after = 2 * -909.3 + 4 * -167.2 - 285.8
    assert (before - after) / 4 == pytest.approx(neutralising.HEAT.value, rel=1e-3)
    assert neutralising.HEAT.grade == "memory"


def test_a_millilitre_of_a_tenth_stock_takes_fourteen_milligrams() -> None:
    assert neutralising.chlorine_taken_mg(1) == pytest.approx(14.29, rel=1e-3)
    assert neutralising.chlorine_taken_mg(2, 50) == pytest.approx(14.29, rel=1e-3)


def test_chloramine_leaves_its_nitrogen() -> None:
    # 14.007 / 70.906: 2 mg/L of chlorine leave 0.395 mg/L of nitrogen.
    assert neutralising.chloramine_nitrogen_mg_per_l(2) == pytest.approx(0.3951, rel=1e-3)


def test_grams_and_kelvins_to_the_last_digit() -> None:
    assert neutralising.neutraliser_g("sodium_thiosulfate_pentahydrate", 1, 1000, "rinse") == 7.0
    # A mole of chlorine in a litre: 308.1 kJ into 4.184 kJ/K.
    assert neutralising.heating_k(70_906) == pytest.approx(308.1 / 4.184)


def test_a_rinse_is_clean_below_a_tenth_of_a_milligram() -> None:
    assert neutralising.ACCEPTED_MG_PER_L == 0.1


def test_amounts_below_nothing_are_refused() -> None:
    refusals: tuple[Callable[[], object], ...] = (
        lambda: neutralising.heating_k(-1),
        lambda: neutralising.chlorine_taken_mg(-1),
        lambda: neutralising.chlorine_taken_mg(1, 0),
        lambda: neutralising.chloramine_nitrogen_mg_per_l(-1),
    )
    for refused in refusals:
        with pytest.raises(OutOfDomain):
            refused()


def test_what_an_agent_surely_takes_is_its_dose_turned_round() -> None:
    assert neutralising.surely_taken("sodium_thiosulfate_pentahydrate", 7) == pytest.approx(1)
    assert neutralising.surely_taken("sodium_sulfite", 1.778 * 1.1) == pytest.approx(1)
    with pytest.raises(OutOfDomain):
        neutralising.surely_taken("sodium_sulfite", -1)
