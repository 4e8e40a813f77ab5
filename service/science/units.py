"""The units of the whitelist: their codes, what they measure, and their exact sizes."""

from collections.abc import Mapping
from types import MappingProxyType
from typing import Literal

Dimension = Literal[
    "volume", "mass", "concentration", "fraction", "count", "temperature", "degree_days", "time"
]

DROP = "[drp]"

# Exact values: NIST Handbook 44 appendix C; the imperial gallon is 4.54609 L by law. The round measures of US
# labels are those of 21 CFR 101.9(b)(5)(viii). The Australian spoon and cup are common practice, no source.
DEFINITIONS = (
    "litre = [volume]",
    "millilitre = 0.001 * litre",
    "microlitre = 0.000001 * litre",
    "us_gallon = 3.785411784 * litre",
    "us_quart = 0.946352946 * litre",
    "us_pint = 0.473176473 * litre",
    "us_cup = 0.2365882365 * litre",
    "us_fluid_ounce = 0.0295735295625 * litre",
    "us_tablespoon = 0.01478676478125 * litre",
    "us_teaspoon = 0.00492892159375 * litre",
    "imperial_gallon = 4.54609 * litre",
    "imperial_pint = 0.56826125 * litre",
    "imperial_fluid_ounce = 0.0284130625 * litre",
    "label_cup = 0.24 * litre",
    "label_fluid_ounce = 0.03 * litre",
    "metric_tablespoon = 0.015 * litre",
    "metric_teaspoon = 0.005 * litre",
    "australian_cup = 0.25 * litre",
    "australian_tablespoon = 0.02 * litre",
    "gram = [mass]",
    "milligram = 0.001 * gram",
    "kilogram = 1000 * gram",
    "grain = 0.06479891 * gram",
    "avoirdupois_pound = 453.59237 * gram",
    "avoirdupois_ounce = 28.349523125 * gram",
    "kelvin = [temperature]",
    "celsius = kelvin; offset: 273.15",
    "fahrenheit = 5 / 9 * kelvin; offset: 233.15 + 200 / 9",
    "second = [time]",
    "minute = 60 * second",
    "hour = 3600 * second",
    "day = 86400 * second",
    "percent = 0.01",
)

# UCUM codes. UCUM's `[cup_m]` is the label's cup of 240 mL. It has no code for the 250 mL cup and the 20 mL
# tablespoon of Australian kitchens: `cup_au` and `tbs_au` are ours, without brackets so that no UCUM code is
# like them. A 20 mL spoon for a US one is 35 % too much.
CODES: Mapping[Dimension, Mapping[str, str]] = MappingProxyType(
    {
        "volume": {
            "L": "litre",
            "mL": "millilitre",
            "uL": "microlitre",
            "[gal_us]": "us_gallon",
            "[gal_br]": "imperial_gallon",
            "[qt_us]": "us_quart",
            "[pt_us]": "us_pint",
            "[pt_br]": "imperial_pint",
            "[foz_us]": "us_fluid_ounce",
            "[foz_br]": "imperial_fluid_ounce",
            "[foz_m]": "label_fluid_ounce",
            "[cup_us]": "us_cup",
            "[cup_m]": "label_cup",
            "cup_au": "australian_cup",
            "[tbs_us]": "us_tablespoon",
            "[tbs_m]": "metric_tablespoon",
            "tbs_au": "australian_tablespoon",
            "[tsp_us]": "us_teaspoon",
            "[tsp_m]": "metric_teaspoon",
            DROP: "millilitre",  # times the calibrated volume of the drop
        },
        "mass": {
            "g": "gram",
            "mg": "milligram",
            "kg": "kilogram",
            "[gr]": "grain",
            "[oz_av]": "avoirdupois_ounce",
            "[lb_av]": "avoirdupois_pound",
        },
        "concentration": {"mg/L": "milligram / litre", "g/L": "gram / litre"},
        "fraction": {"%": "percent"},
        "count": {"1": "dimensionless"},
        "temperature": {"Cel": "celsius", "[degF]": "fahrenheit"},
        "degree_days": {"K.d": "kelvin * day"},
        "time": {"s": "second", "min": "minute", "h": "hour", "d": "day"},
    }
)
