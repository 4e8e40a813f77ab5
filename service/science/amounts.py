"""Amounts in UCUM units: a whitelist of codes, exact conversion by pint, units of a reader's choice."""

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import ROUND_HALF_EVEN, Context, Decimal, localcontext
from types import MappingProxyType
from typing import Literal

import pint

from service.science.domain import OutOfDomain, positive
from service.science.units import CODES, DEFINITIONS, DROP, Dimension

System = Literal["si", "us"]

KEPT = Context(prec=28, rounding=ROUND_HALF_EVEN)
WORKING = Context(prec=60, rounding=ROUND_HALF_EVEN)  # so that what is kept is exact to its last digit
SHOWN_US = Context(prec=6, rounding=ROUND_HALF_EVEN)


class UnknownUnit(OutOfDomain):
    """The code is not on the whitelist."""


class WrongDimension(OutOfDomain):
    """The amount is of another kind than what is asked for: a mass is no volume."""


class NotANumber(OutOfDomain):
    """The value is not finite."""


class UncalibratedDrop(OutOfDomain):
    """Drops are no measure until the volume of this bottle's drop is known."""


def _registry() -> "pint.UnitRegistry[Decimal]":
    registry: pint.UnitRegistry[Decimal] = pint.UnitRegistry(None, non_int_type=Decimal)
    with localcontext(WORKING):
        for definition in DEFINITIONS:
            registry.define(definition)
    return registry


_REGISTRY = _registry()


@dataclass(frozen=True)
class Unit:
    """A whitelisted code, its dimension, and the pint expression it stands for."""

    code: str
    dimension: Dimension
    expression: str


UNITS: Mapping[str, Unit] = MappingProxyType(
    {
        code: Unit(code, kind, expression)
        for kind, of_kind in CODES.items()
        for code, expression in of_kind.items()
    }
)
_PINT = {code: _REGISTRY.parse_units(unit.expression) for code, unit in UNITS.items()}


@dataclass(frozen=True)
class Amount:
    """A finite number of a whitelisted unit; NotANumber or UnknownUnit otherwise."""

    value: Decimal
    unit: str

    def __post_init__(self) -> None:
        _known(self.unit)
        if not self.value.is_finite():
            raise NotANumber("value", f"An amount must be a finite number, not {self.value}.")


def dimension(unit: str) -> Dimension:
    """What kind of amount a code measures; UnknownUnit when it is not on the list."""
    return _known(unit).dimension


def convert(amount: Amount, unit: str, *, drop_ml: Decimal | None = None) -> Amount:
    """The same amount in another unit of its dimension, exact to 28 digits.

    `drop_ml` is the calibrated volume of one drop; without it drops are refused (UncalibratedDrop).
    Raises UnknownUnit, WrongDimension.
    """
    if dimension(unit) != dimension(amount.unit):
        detail = f"{amount.unit} is a {dimension(amount.unit)}, {unit} is a {dimension(unit)}."
        raise WrongDimension("unit", detail)
    if unit == amount.unit:
        return amount
    with localcontext(WORKING):
        value = amount.value * _drop_volume(drop_ml) if amount.unit == DROP else amount.value
        value = Decimal(_REGISTRY.convert(value, _PINT[amount.unit], _PINT[unit]))
        value = value / _drop_volume(drop_ml) if unit == DROP else value
    return Amount(_plain(KEPT.plus(value)), unit)


def litres(amount: Amount) -> Decimal:
    """A volume in litres."""
    return convert(amount, "L").value


def microlitres(amount: Amount, *, drop_ml: Decimal | None = None) -> int:
    """A volume in whole microlitres, halves to even: the ledger's unit of liquids."""
    return int(convert(amount, "uL", drop_ml=drop_ml).value.to_integral_value(ROUND_HALF_EVEN))


def milligrams(amount: Amount) -> int:
    """A mass in whole milligrams, halves to even: the ledger's unit of solids."""
    return int(convert(amount, "mg").value.to_integral_value(ROUND_HALF_EVEN))


def mg_per_l(amount: Amount) -> Decimal:
    """A concentration in milligrams per litre."""
    return convert(amount, "mg/L").value


def celsius(amount: Amount) -> Decimal:
    """A temperature in degrees Celsius."""
    return convert(amount, "Cel").value


def present(amount: Amount, system: System) -> Amount:
    """The amount in units that readers of the system use.

    `si`: L or mL, g or mg, Cel, exact. `us`: gallons, cups, tablespoons or teaspoons, ounces, [degF], rounded
    to six significant digits. Drops, concentrations, fractions, counts, degree-days and times stay.
    """
    if amount.unit == DROP:
        return amount
    unit = _si_unit(amount) if system == "si" else _us_unit(amount)
    shown = convert(amount, unit)
    if system == "us" and unit != amount.unit:
        return Amount(_plain(SHOWN_US.plus(shown.value)), unit)
    return shown


def _si_unit(amount: Amount) -> str:
    kind = dimension(amount.unit)
    if kind == "volume":
        return "L" if abs(litres(amount)) >= 1 else "mL"
    if kind == "mass":
        return "g" if abs(convert(amount, "g").value) >= 1 else "mg"
    return "Cel" if kind == "temperature" else amount.unit


def _us_unit(amount: Amount) -> str:
    kind = dimension(amount.unit)
    if kind == "volume":
        return _us_measure(abs(convert(amount, "[cup_us]").value))
    if kind == "mass":
        return "[oz_av]"
    return "[degF]" if kind == "temperature" else amount.unit


def _us_measure(cups: Decimal) -> str:
    if cups >= 16:
        return "[gal_us]"
    if cups >= Decimal("0.25"):
        return "[cup_us]"
    return "[tbs_us]" if cups >= Decimal("0.0625") else "[tsp_us]"


def _known(unit: str) -> Unit:
    if unit not in UNITS:
        raise UnknownUnit("unit", f"Unknown unit {unit!r}. Use one of: {' '.join(UNITS)}.")
    return UNITS[unit]


def _drop_volume(drop_ml: Decimal | None) -> Decimal:
    if drop_ml is None:
        raise UncalibratedDrop("drop_ml", "Drops need the calibrated volume of one drop of this bottle.")
    positive("drop_ml", drop_ml)
    return drop_ml


def _plain(value: Decimal) -> Decimal:
    """Without trailing zeros or an exponent, so that 1000 does not read 1E+3."""
    return Decimal(f"{value.normalize(KEPT):f}")
