"""The domain of a formula: arguments outside it are refused, by name, in a clear sentence."""

import math
from decimal import Decimal

Number = int | float | Decimal


class OutOfDomain(ValueError):
    """An argument a formula has no answer for; `parameter` names it. Every refusal of the science is one."""

    def __init__(self, parameter: str, sentence: str) -> None:
        super().__init__(parameter, sentence)
        self.parameter = parameter
        self.sentence = sentence

    def __str__(self) -> str:
        return self.sentence


def finite(parameter: str, value: Number) -> None:
    """Refuse what is no number or infinite; OutOfDomain."""
    if not math.isfinite(value):
        raise OutOfDomain(parameter, f"{parameter} must be a finite number, not {value}.")


def positive(parameter: str, value: Number) -> None:
    """Refuse what is not finite or not above zero; OutOfDomain."""
    if not math.isfinite(value) or value <= 0:
        raise OutOfDomain(parameter, f"{parameter} must be a number above zero, not {value}.")


def not_negative(parameter: str, value: Number) -> None:
    """Refuse what is not finite or below zero; OutOfDomain."""
    if not math.isfinite(value) or value < 0:
        raise OutOfDomain(parameter, f"{parameter} must be zero or more, not {value}.")


def within(parameter: str, value: Number, low: Number, high: Number) -> None:
    """Refuse what is not finite or outside low..high (both allowed); OutOfDomain."""
    if not math.isfinite(value) or not low <= value <= high:
        raise OutOfDomain(parameter, f"{parameter} must lie between {low} and {high}, not {value}.")


def share(parameter: str, value: Number) -> None:
    """Refuse what is no share above zero and at most one; OutOfDomain."""
    if not math.isfinite(value) or not 0 < value <= 1:
        raise OutOfDomain(parameter, f"{parameter} must be above 0 and at most 1, not {value}.")
