"""Molar masses and mass fractions against two general libraries, and reacting masses in handbooks."""

import molmass
import periodictable
import pytest

from service.science.substances import ATOMIC_G_PER_MOL, SUBSTANCES, element_share
from tests.reference.outside import Kind, outside

SALTS = [name for name, one in SUBSTANCES.items() if one.element is not None]


@pytest.mark.parametrize("name", SUBSTANCES)
@outside(Kind.LIBRARY, "molmass 2026.1.8")
def test_molar_masses_by_one_library(name: str) -> None:
    one = SUBSTANCES[name]
    assert one.g_per_mol == pytest.approx(molmass.Formula(one.formula).mass, rel=1e-4)


@pytest.mark.parametrize("name", SUBSTANCES)
@outside(Kind.LIBRARY, "periodictable 2.1.0")
def test_molar_masses_by_another(name: str) -> None:
    one = SUBSTANCES[name]
    assert one.g_per_mol == pytest.approx(periodictable.formula(one.formula).mass, rel=2e-4)


@pytest.mark.parametrize("name", SALTS)
@outside(Kind.LIBRARY, "molmass 2026.1.8")
def test_shares_of_the_element_by_one_library(name: str) -> None:
    one = SUBSTANCES[name]
    fraction = molmass.Formula(one.formula).composition()[str(one.element)].fraction
    assert element_share(name) == pytest.approx(fraction, rel=1e-3)


@pytest.mark.parametrize("name", SALTS)
@outside(Kind.LIBRARY, "periodictable 2.1.0")
def test_shares_of_the_element_by_another(name: str) -> None:
    one = SUBSTANCES[name]
    fractions = periodictable.formula(one.formula).mass_fraction
    assert element_share(name) == pytest.approx(fractions[getattr(periodictable, str(one.element))], rel=1e-3)


@pytest.mark.parametrize(("symbol", "weight"), [("Al", 26.982), ("Cu", 63.546), ("N", 14.007)])
@outside(Kind.STANDARD, "IUPAC abridged standard atomic weights")
def test_atomic_weights(symbol: str, weight: float) -> None:
    assert ATOMIC_G_PER_MOL[symbol] == weight


@pytest.mark.parametrize(
    ("name", "grams"),
    [
        pytest.param(
            "sodium_hypochlorite", 74.442, marks=outside(Kind.TABLE, "encyclopaedia, sodium hypochlorite")
        ),
        pytest.param(
            "potassium_alum", 474.38, marks=outside(Kind.TABLE, "MFA CAMEO, aluminum potassium sulfate")
        ),
        pytest.param(
            "burnt_potassium_alum", 258.20, marks=outside(Kind.TABLE, "Encyclopedia of Chemical Compounds")
        ),
        pytest.param(
            "potassium_permanganate", 158.03, marks=outside(Kind.TABLE, "web table beside its solubility")
        ),
        pytest.param("hydrogen_peroxide", 34.0, marks=outside(Kind.TABLE, "Fire Engineering, February 1987")),
    ],
)
def test_molar_masses_in_print(name: str, grams: float) -> None:
    assert SUBSTANCES[name].g_per_mol == pytest.approx(grams, rel=1e-3)


@outside(
    Kind.WORKED, "Mathematics and Statistics for the Environment, eq. 23.17: copper sulfate holds 25 % copper"
)
def test_the_blue_salt_holds_a_quarter_of_copper() -> None:
    assert element_share("copper_sulfate_pentahydrate") == pytest.approx(0.25, abs=0.005)
