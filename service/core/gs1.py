"""Keys of GS1 (GTIN, GLN, company prefix): their form and check digit."""

from collections.abc import Mapping
from typing import Any

from marshmallow import ValidationError, fields

GTIN = frozenset({8, 12, 13, 14})
GLN = frozenset({13})


def check_digit(digits: str) -> str:
    """The last digit of a GS1 key from those before it: modulo 10, weights 3 and 1 from the right."""
    total = sum(int(digit) * (3 if place % 2 == 0 else 1) for place, digit in enumerate(reversed(digits)))
    return str(-total % 10)


def is_key(text: str, lengths: frozenset[int]) -> bool:
    """Whether a text is a GS1 key of one of these lengths with a right check digit."""
    digits = text.isascii() and text.isdigit()
    return digits and len(text) in lengths and check_digit(text[:-1]) == text[-1]


class Gs1Key(fields.String):
    """A GS1 key in digits with its check digit."""

    def __init__(self, lengths: frozenset[int], **kwargs: Any) -> None:
        """Say how many digits it may have."""
        super().__init__(**kwargs)
        self._lengths = lengths

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> str:
        text = super()._deserialize(value, attr, data, **kwargs)
        if not text.isascii() or not text.isdigit() or len(text) not in self._lengths:
            lengths = " or ".join(str(length) for length in sorted(self._lengths))
            raise ValidationError(f"Not {lengths} digits.")
        if not is_key(text, self._lengths):
            raise ValidationError(f"The check digit is wrong: it would be {check_digit(text[:-1])}.")
        return text
