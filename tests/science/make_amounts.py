"""Amounts written in tests as a number and its unit."""

from decimal import Decimal

from service.science.amounts import Amount


def amount(value: str, unit: str) -> Amount:
    """An amount, exact to the last digit written."""
    return Amount(Decimal(value), unit)
