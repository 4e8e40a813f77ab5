"""Amounts as clients write them, in the whole base units of a material's ledger."""

from decimal import Decimal

from service.core.errors import Invalid
from service.science.amounts import Amount, UncalibratedDrop, WrongDimension, microlitres, milligrams


def base_units(base_unit: str, amount: Amount, pointer: str, *, drop_ml: float | None = None) -> int:
    """An amount in the whole microlitres or milligrams of a material's ledger.

    Invalid at `pointer` for the other dimension, uncalibrated drops, and what is less than one.
    """
    try:
        if base_unit == "mg":
            found = milligrams(amount)
        else:
            found = microlitres(amount, drop_ml=None if drop_ml is None else Decimal(str(drop_ml)))
    except (WrongDimension, UncalibratedDrop) as problem:
        raise Invalid.at(f"{pointer}/unit", str(problem), code="wrong-unit") from problem
    if found == 0 and amount.value != 0:
        raise Invalid.at(f"{pointer}/value", f"This is less than 1 {base_unit}.", code="too-small")
    return found
