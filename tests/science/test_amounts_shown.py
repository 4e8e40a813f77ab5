"""Amounts as readers of SI and of US units see them."""

from decimal import Decimal

import pytest

from service.science.amounts import Amount, present
from tests.science.make_amounts import amount


@pytest.mark.parametrize(
    ("value", "unit", "shown", "shown_unit"),
    [
        ("1500", "mL", "1.5", "L"),
        ("250000", "uL", "250", "mL"),
        ("0.25", "L", "250", "mL"),
        ("0", "L", "0", "mL"),
        ("-1500", "mL", "-1.5", "L"),
        ("5", "[gal_us]", "18.92705892", "L"),
        ("2500", "mg", "2.5", "g"),
        ("0.5", "g", "500", "mg"),
        ("1", "kg", "1000", "g"),
        ("68", "[degF]", "20", "Cel"),
        ("400", "mg/L", "400", "mg/L"),
        ("5", "[drp]", "5", "[drp]"),
    ],
)
def test_readers_of_si_see_litres_grams_and_celsius(
    value: str, unit: str, shown: str, shown_unit: str
) -> None:
    found = present(amount(value, unit), "si")
    assert (str(found.value), found.unit) == (shown, shown_unit)


@pytest.mark.parametrize(
    ("value", "unit", "shown", "shown_unit"),
    [
        ("10", "L", "2.64172", "[gal_us]"),
        ("500", "mL", "2.11338", "[cup_us]"),
        ("20", "mL", "1.35256", "[tbs_us]"),
        ("5", "mL", "1.01442", "[tsp_us]"),
        ("0", "mL", "0", "[tsp_us]"),
        ("42", "g", "1.48151", "[oz_av]"),
        ("20", "Cel", "68", "[degF]"),
        ("1.23456789", "[gal_us]", "1.23456789", "[gal_us]"),
        ("3", "h", "3", "h"),
        ("5", "[drp]", "5", "[drp]"),
    ],
)
def test_readers_of_us_units_see_kitchen_measures(value: str, unit: str, shown: str, shown_unit: str) -> None:
    found = present(amount(value, unit), "us")
    assert (str(found.value), found.unit) == (shown, shown_unit)


@pytest.mark.parametrize(
    ("cups", "unit"),
    [
        ("16", "[gal_us]"),
        ("15.99", "[cup_us]"),
        ("0.25", "[cup_us]"),
        ("0.2499", "[tbs_us]"),
        ("0.0625", "[tbs_us]"),
        ("0.0624", "[tsp_us]"),
        ("-16", "[gal_us]"),
    ],
)
def test_kitchen_measures_change_at_a_gallon_a_quarter_cup_and_a_spoon(cups: str, unit: str) -> None:
    assert present(Amount(Decimal(cups), "[cup_us]"), "us").unit == unit
