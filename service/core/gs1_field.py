"""The marshmallow field of GS1 keys."""

from collections.abc import Mapping
from typing import Any

from marshmallow import ValidationError, fields

from service.core.gs1 import check_digit, is_key


class Gs1Key(fields.String):
    """A GS1 key in digits with its check digit."""

    def __init__(self, lengths: frozenset[int], **kwargs: Any) -> None:
        """Say how many digits it may have."""
        digits = "|".join(f"[0-9]{{{length}}}" for length in sorted(lengths))
        super().__init__(metadata={"pattern": f"^({digits})$"}, **kwargs)
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
