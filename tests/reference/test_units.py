"""Sizes of units against the handbook, UCUM, US label law and a general unit library."""

from decimal import Decimal

import pint
import pytest

from service.science.amounts import UNITS, Amount, convert
from tests.reference.outside import Kind, outside

HANDBOOK = "NIST Handbook 44, appendix C"
UCUM = "UCUM ticket 120, household measures after 21 CFR 101.9(b)(5)(viii)"
LAW = "Weights and Measures Act 1985 (UK): the gallon is 4.546 09 L"
KITCHEN = "common practice, no source: measures of Australian kitchens"
PINT: pint.UnitRegistry[Decimal] = pint.UnitRegistry(non_int_type=Decimal)


def in_unit(value: str, unit: str, to: str) -> Decimal:
    return convert(Amount(Decimal(value), unit), to).value


@pytest.mark.parametrize(
    ("unit", "to", "size"),
    [
        pytest.param("[gal_us]", "mL", "3785.411784", marks=outside(Kind.STANDARD, HANDBOOK)),
        pytest.param("[qt_us]", "mL", "946.352946", marks=outside(Kind.STANDARD, HANDBOOK)),
        pytest.param("[pt_us]", "mL", "473.176473", marks=outside(Kind.STANDARD, HANDBOOK)),
        pytest.param("[cup_us]", "mL", "236.5882365", marks=outside(Kind.STANDARD, HANDBOOK)),
        pytest.param("[foz_us]", "mL", "29.5735295625", marks=outside(Kind.STANDARD, HANDBOOK)),
        pytest.param("[tbs_us]", "mL", "14.78676478125", marks=outside(Kind.STANDARD, HANDBOOK)),
        pytest.param("[tsp_us]", "mL", "4.92892159375", marks=outside(Kind.STANDARD, HANDBOOK)),
        pytest.param("[gal_br]", "mL", "4546.09", marks=outside(Kind.STANDARD, LAW)),
        pytest.param("[pt_br]", "mL", "568.26125", marks=outside(Kind.STANDARD, LAW)),
        pytest.param("[foz_br]", "mL", "28.4130625", marks=outside(Kind.STANDARD, LAW)),
        pytest.param("[lb_av]", "g", "453.59237", marks=outside(Kind.STANDARD, HANDBOOK)),
        pytest.param("[oz_av]", "g", "28.349523125", marks=outside(Kind.STANDARD, HANDBOOK)),
        pytest.param("[gr]", "mg", "64.79891", marks=outside(Kind.STANDARD, HANDBOOK)),
        pytest.param("[cup_m]", "mL", "240", marks=outside(Kind.STANDARD, UCUM)),
        pytest.param("[foz_m]", "mL", "30", marks=outside(Kind.STANDARD, UCUM)),
        pytest.param("[tbs_m]", "mL", "15", marks=outside(Kind.STANDARD, UCUM)),
        pytest.param("[tsp_m]", "mL", "5", marks=outside(Kind.STANDARD, UCUM)),
        pytest.param("tbs_au", "mL", "20", marks=outside(Kind.PRACTICE, KITCHEN)),
        pytest.param("cup_au", "mL", "250", marks=outside(Kind.PRACTICE, KITCHEN)),
    ],
)
def test_units_have_their_size_to_the_last_digit(unit: str, to: str, size: str) -> None:
    assert in_unit("1", unit, to) == Decimal(size)


@pytest.mark.parametrize(
    ("unit", "name"),
    [
        ("[gal_us]", "gallon"),
        ("[qt_us]", "quart"),
        ("[pt_us]", "pint"),
        ("[cup_us]", "cup"),
        ("[foz_us]", "fluid_ounce"),
        ("[tbs_us]", "tablespoon"),
        ("[tsp_us]", "teaspoon"),
        ("[gal_br]", "imperial_gallon"),
        ("[pt_br]", "imperial_pint"),
        ("[foz_br]", "imperial_fluid_ounce"),
        ("[lb_av]", "pound"),
        ("[oz_av]", "ounce"),
        ("[gr]", "grain"),
        ("h", "hour"),
        ("d", "day"),
    ],
)
@outside(Kind.LIBRARY, "pint 0.25, its own default_en.txt")
def test_units_are_those_of_a_unit_library(unit: str, name: str) -> None:
    base = {"volume": "mL", "mass": "g", "time": "s"}[UNITS[unit].dimension]
    expected = PINT.Quantity(Decimal(1), name).to(base).magnitude
    assert float(in_unit("1", unit, base)) == pytest.approx(float(expected), rel=1e-15)


@pytest.mark.parametrize(
    ("celsius", "fahrenheit"),
    [("0", "32"), ("100", "212"), ("-40", "-40"), ("37", "98.6")],
)
@outside(Kind.STANDARD, "NIST SP 811, appendix B: t(F) = 1.8 t(C) + 32")
def test_temperatures(celsius: str, fahrenheit: str) -> None:
    assert in_unit(celsius, "Cel", "[degF]") == Decimal(fahrenheit)


@pytest.mark.parametrize(
    ("small", "large", "count"),
    [
        ("[tsp_us]", "[tbs_us]", 3),
        ("[tbs_us]", "[cup_us]", 16),
        ("[foz_us]", "[cup_us]", 8),
        ("[tbs_us]", "[gal_us]", 256),
        ("[foz_us]", "[gal_us]", 128),
        ("[foz_br]", "[gal_br]", 160),
        ("[foz_br]", "[pt_br]", 20),
        ("[oz_av]", "[lb_av]", 16),
        ("[gr]", "[lb_av]", 7000),
    ],
)
@outside(Kind.STANDARD, HANDBOOK)
def test_small_units_go_into_large_ones_a_whole_number_of_times(small: str, large: str, count: int) -> None:
    assert in_unit(str(count), small, large) == pytest.approx(Decimal(1), rel=Decimal("1e-25"))


@outside(Kind.STANDARD, "USP <1101> medicine dropper: 20 drops of water weigh 0.9 to 1.1 g")
def test_twenty_drops_of_a_dropper_are_about_a_millilitre() -> None:
    twenty = convert(Amount(Decimal(20), "[drp]"), "mL", drop_ml=Decimal("0.05")).value
    assert Decimal("0.9") <= twenty <= Decimal("1.1")
