"""Amounts in UCUM units against NIST Handbook 44 appendix C and pint's own unit definitions."""

from decimal import Decimal
from fractions import Fraction

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science import amounts
from service.science.amounts import Amount, convert
from service.science.domain import OutOfDomain
from tests.science.make_amounts import amount

CODES = [
    *("L", "mL", "uL", "[gal_us]", "[gal_br]", "[qt_us]", "[pt_us]", "[pt_br]", "[foz_us]", "[foz_br]"),
    *("[foz_m]", "[cup_us]", "[cup_m]", "cup_au", "[tbs_us]", "[tbs_m]", "tbs_au", "[tsp_us]", "[tsp_m]"),
    *("[drp]", "g", "mg", "kg", "[gr]", "[oz_av]", "[lb_av]", "mg/L", "g/L", "%", "1", "Cel", "[degF]"),
    *("K.d", "s", "min", "h", "d"),
]

# mL, exact: 1 US gallon = 231 cubic inches of 2.54 cm, 1 imperial gallon = 4.54609 L (NIST HB 44 appendix C).
MILLILITRES = {
    "[tsp_us]": "4.92892159375",
    "[tbs_us]": "14.78676478125",
    "[foz_us]": "29.5735295625",
    "[cup_us]": "236.5882365",
    "[qt_us]": "946.352946",
    "[gal_us]": "3785.411784",
    "[foz_br]": "28.4130625",
    "[gal_br]": "4546.09",
    "[pt_us]": "473.176473",
    "[pt_br]": "568.26125",
    "[foz_m]": "30",
    "[cup_m]": "240",
    "cup_au": "250",
    "[tbs_m]": "15",
    "tbs_au": "20",
    "[tsp_m]": "5",
    "uL": "0.001",
    "L": "1000",
}
PINT_NAMES = {
    "[tsp_us]": "teaspoon",
    "[tbs_us]": "tablespoon",
    "[foz_us]": "fluid_ounce",
    "[cup_us]": "cup",
    "[qt_us]": "quart",
    "[gal_us]": "gallon",
    "[foz_br]": "imperial_fluid_ounce",
    "[gal_br]": "imperial_gallon",
    "[oz_av]": "ounce",
    "[lb_av]": "pound",
}


def test_the_whitelist_is_the_one_of_the_contract_in_its_order() -> None:
    assert list(amounts.UNITS) == CODES


@pytest.mark.parametrize(("unit", "millilitres"), MILLILITRES.items())
def test_volumes_are_those_of_the_handbook_to_the_last_digit(unit: str, millilitres: str) -> None:
    assert str(convert(amount("1", unit), "mL").value) == millilitres


@pytest.mark.parametrize(
    ("unit", "grams"),
    [
        ("[oz_av]", "28.349523125"),
        ("[lb_av]", "453.59237"),
        ("kg", "1000"),
        ("mg", "0.001"),
        ("[gr]", "0.06479891"),
    ],
)
def test_masses_are_those_of_the_handbook_to_the_last_digit(unit: str, grams: str) -> None:
    assert str(convert(amount("1", unit), "g").value) == grams


@pytest.mark.parametrize(("unit", "name"), PINT_NAMES.items())
def test_units_agree_with_the_definitions_that_come_with_pint(unit: str, name: str) -> None:
    registry: pint.UnitRegistry[Decimal] = pint.UnitRegistry(non_int_type=Decimal)
    base = "mL" if amounts.dimension(unit) == "volume" else "g"
    expected = registry.Quantity(Decimal(1), name).to(base).magnitude
    assert float(convert(amount("1", unit), base).value) == pytest.approx(float(expected), rel=1e-15)


@pytest.mark.parametrize(
    ("value", "unit", "to", "expected"),
    [
        ("212", "[degF]", "Cel", "100"),
        ("32", "[degF]", "Cel", "0"),
        ("-40", "[degF]", "Cel", "-40"),
        ("21.1", "Cel", "[degF]", "69.98"),
        ("3.5", "g/L", "mg/L", "3500"),
        ("2", "d", "h", "48"),
        ("1.5", "h", "min", "90"),
        ("90", "s", "min", "1.5"),
    ],
)
def test_temperatures_concentrations_and_times_convert(value: str, unit: str, to: str, expected: str) -> None:
    assert str(convert(amount(value, unit), to).value) == expected


def test_a_tablespoon_to_the_gallon_is_3_90625_ml_per_litre() -> None:
    # 256 tablespoons are a US gallon (NIST HB 44 appendix C), so 1000 / 256.
    spoon, gallon = convert(amount("1", "[tbs_us]"), "mL"), convert(amount("1", "[gal_us]"), "L")
    assert spoon.value / gallon.value == Decimal("3.90625")


def test_an_amount_of_the_unit_asked_for_is_left_alone() -> None:
    kept = amount("1.50", "mL")
    assert convert(kept, "mL") is kept


def test_drops_count_only_with_the_calibrated_volume_of_this_bottle() -> None:
    drops = amount("20", "[drp]")
    with pytest.raises(amounts.UncalibratedDrop):
        convert(drops, "mL")
    assert convert(drops, "mL", drop_ml=Decimal("0.05")) == amount("1", "mL")
    assert convert(amount("1", "mL"), "[drp]", drop_ml=Decimal("0.04")) == amount("25", "[drp]")
    assert amounts.microlitres(drops, drop_ml=Decimal("0.0525")) == 1050
    with pytest.raises(OutOfDomain):
        convert(drops, "mL", drop_ml=Decimal(0))


def test_the_ledger_counts_whole_microlitres_and_milligrams_halves_to_even() -> None:
    assert [amounts.microlitres(amount(v, "uL")) for v in ("0.5", "1.5", "2.5")] == [0, 2, 2]
    assert amounts.microlitres(amount("1", "[tsp_us]")) == 4929
    assert amounts.milligrams(amount("0.0025", "g")) == 2
    assert amounts.milligrams(amount("1", "[lb_av]")) == 453592


def test_short_hands_give_the_number_alone() -> None:
    assert amounts.litres(amount("250", "mL")) == Decimal("0.25")
    assert amounts.mg_per_l(amount("0.4", "g/L")) == 400
    assert amounts.celsius(amount("50", "[degF]")) == 10


@pytest.mark.parametrize("unit", ["pinch", "T", "fl oz", "ML", "l", "", "K", "mL ", "[tbs_au]", "20.mL"])
def test_codes_off_the_list_are_unknown_even_where_pint_would_guess(unit: str) -> None:
    with pytest.raises(amounts.UnknownUnit):
        Amount(Decimal(1), unit)
    with pytest.raises(amounts.UnknownUnit):
        convert(amount("1", "mL"), unit)
    with pytest.raises(amounts.UnknownUnit):
        amounts.dimension(unit)


def test_a_mass_is_no_volume_and_a_count_no_fraction() -> None:
    with pytest.raises(amounts.WrongDimension, match="g is a mass, mL is a volume"):
        convert(amount("1", "g"), "mL")
    with pytest.raises(amounts.WrongDimension):
        convert(amount("1", "%"), "1")


@pytest.mark.parametrize("value", ["NaN", "sNaN", "Infinity", "-Infinity"])
def test_what_is_not_finite_is_no_amount(value: str) -> None:
    with pytest.raises(amounts.NotANumber):
        amount(value, "mL")


@given(
    st.decimals("-1000000", "1000000", places=6),
    st.sampled_from([code for code in CODES if code != "[drp]"]),
    st.data(),
)
def test_there_and_back_again_is_the_same_amount(value: Decimal, unit: str, data: st.DataObject) -> None:
    kin = [code for code in CODES if code != "[drp]" and amounts.dimension(code) == amounts.dimension(unit)]
    other = data.draw(st.sampled_from(kin))
    back = convert(convert(Amount(value, unit), other), unit)
    assert abs(Fraction(back.value) - Fraction(value)) <= Fraction(1, 10**15)
    assert round(back.value, 6) == value


@given(st.sampled_from(CODES), st.sampled_from(CODES))
def test_what_one_unit_is_in_another_is_the_inverse_of_the_way_back(first: str, second: str) -> None:
    if "[drp]" in (first, second) or amounts.dimension(first) != amounts.dimension(second):
        return
    if amounts.dimension(first) == "temperature":
        return
    there, back = convert(amount("1", first), second), convert(amount("1", second), first)
    assert there.value * back.value == pytest.approx(Decimal(1), rel=Decimal("1e-25"))


def test_a_spoon_is_no_spoon_until_it_is_said_whose() -> None:
    ours, american = convert(amount("1", "tbs_au"), "mL"), convert(amount("1", "[tbs_us]"), "mL")
    assert float(ours.value / american.value) - 1 == pytest.approx(0.353, abs=5e-4)
