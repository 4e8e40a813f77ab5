"""Copper against the US water-quality tables, the fish ponds' rule and worked doses."""

from collections.abc import Callable

import pytest

from service.science import copper, solutions
from service.science.substances import element_share
from tests.reference.outside import Kind, outside

GALLON_L, ACRE_FOOT_L, POUND_G = 3.785411784, 1_233_481.84, 453.59237
BLUE = "copper_sulfate_pentahydrate"


@pytest.mark.parametrize(("hardness", "acute"), [(50, "7.0"), (100, "13"), (200, "26")])
@outside(Kind.STANDARD, "40 CFR 132, table 1, copper, dissolved, rounded to two digits")
def test_acute_criteria(hardness: float, acute: str) -> None:
    assert float(f"{copper.acute_criterion_ug_per_l(hardness):.2g}") == float(acute)


@pytest.mark.parametrize(("hardness", "chronic"), [(50, "5.0"), (100, "9.0"), (200, "16")])
@outside(Kind.STANDARD, "40 CFR 132, table 2, copper, dissolved, rounded to two digits")
def test_chronic_criteria(hardness: float, chronic: str) -> None:
    assert float(f"{copper.chronic_criterion_ug_per_l(hardness):.2g}") == float(chronic)


@pytest.mark.parametrize(
    ("criterion", "total"),
    [(copper.acute_criterion_ug_per_l, 14.0), (copper.chronic_criterion_ug_per_l, 9.3)],
)
@outside(Kind.MEMORY, "EPA criteria of 1995 at hardness 100, total recoverable, from memory")
def test_total_recoverable_criteria_at_hardness_100(criterion: Callable[..., float], total: float) -> None:
    assert criterion(100, dissolved=False) == pytest.approx(total, rel=5e-3)


@pytest.mark.parametrize(
    ("alkalinity", "salt"),
    [
        pytest.param(
            150, 1.5, marks=outside(Kind.WORKED, "pond guide: alkalinity 150, 1.5 ppm of copper sulfate")
        ),
        pytest.param(200, 2.0, marks=outside(Kind.WORKED, "after UF/IFAS FA008: alkalinity 200, 2 mg/L")),
        pytest.param(300, 2.5, marks=outside(Kind.TABLE, "UF/IFAS FA008: never more than 2.5 mg/L")),
    ],
)
def test_the_fish_ponds_rule(alkalinity: float, salt: float) -> None:
    assert copper.pond_sulfate_mg_per_l(alkalinity) == pytest.approx(salt)


@outside(Kind.WORKED, "pond guide: 2.7 lb of copper sulfate to an acre-foot is 1.0 ppm")
def test_pounds_to_an_acre_foot() -> None:
    assert solutions.mass_g(1.0, ACRE_FOOT_L) / POUND_G == pytest.approx(2.7, rel=0.01)


@outside(Kind.WORKED, "Mathematics and Statistics for the Environment, example 23.19: 250 lb of the salt")
def test_copper_for_a_pond_of_fifteen_million_gallons() -> None:
    found = copper.salt_g(0.5, 15e6 * GALLON_L) / POUND_G
    assert found == pytest.approx(250, rel=0.02)


@outside(Kind.MEMORY, "laboratory stock: 3.929 g of CuSO4.5H2O to a litre is 1000 mg/L of copper")
def test_the_laboratory_stock() -> None:
    assert copper.salt_g(1000, 1) == pytest.approx(3.929, rel=1e-3)


@outside(Kind.MEMORY, "trade grade of copper sulfate: 25.2 % of copper at 99 % purity, from memory")
def test_copper_of_the_trade_grade() -> None:
    assert 100 * 0.99 * element_share(BLUE) == pytest.approx(25.2, rel=5e-3)


@pytest.mark.parametrize(
    ("species", "lethal_mg_per_l"),
    [
        pytest.param(
            "Physa integra",
            0.039,
            marks=outside(Kind.PAPER, "Arthur and Leonard 1970, J. Fish. Res. Bd Can. 27:1277, 96 h LC50"),
        ),
        pytest.param(
            "Planorbella trivolvis", 0.2, marks=outside(Kind.PAPER, "WAS abstract: adults, LC50 at 72 h")
        ),
        pytest.param(
            "Melanoides tuberculata", 0.14, marks=outside(Kind.PAPER, "Melanoides and metals: 96 h LC50")
        ),
    ],
)
def test_the_block_of_ionic_copper_lies_above_what_kills_half_of_the_snails(
    species: str, lethal_mg_per_l: float
) -> None:
    cap = copper.copper_cap("ionic")
    assert cap.warn_mg_per_l is not None
    assert lethal_mg_per_l < cap.warn_mg_per_l < cap.block_mg_per_l, species


@outside(Kind.PAPER, "Arthur and Leonard 1970: Campeloma decisum, 96 h LC50 1.7 mg/L")
def test_a_snail_with_a_lid_outlives_every_dose_that_may_be_mixed() -> None:
    # A disagreement with the trade's "copper kills snails": not this one, at no dose below the block.
    assert copper.copper_cap("ionic").block_mg_per_l < 1.7


@outside(Kind.PAPER, "WAS abstract: four doses of 0.4 mg/L killed all adult planorbids")
def test_four_doses_of_four_tenths_without_a_reading_stay_below_the_block() -> None:
    level = copper.blind_level_mg_per_l(0.4, 4, 0.5)
    assert level == pytest.approx(0.75)
    assert level < copper.copper_cap("ionic").block_mg_per_l


@outside(Kind.TABLE, "hobby copper page: about 2 mg/L of strong chelates by the matching test")
def test_the_chelates_block_lies_above_their_usual_dose() -> None:
    assert copper.copper_cap("chelate").block_mg_per_l > 2.0
