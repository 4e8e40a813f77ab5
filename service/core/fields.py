"""The marshmallow fields all rooms use: form only (type, range, length), never the sense."""

import math
import re
import unicodedata
from collections.abc import Mapping
from datetime import UTC, date, datetime
from decimal import Decimal, InvalidOperation
from typing import Any
from uuid import UUID

from marshmallow import RAISE, Schema, ValidationError, fields, validate

from service.science import amounts

RFC3339 = re.compile(r"^\d{4}-\d{2}-\d{2}[Tt]\d{2}:\d{2}:\d{2}(\.\d{1,9})?([Zz]|[+-]\d{2}:\d{2})$")
DAY = re.compile(r"^\d{4}-\d{2}-\d{2}$")
DECIMAL = re.compile(r"^-?[0-9]{1,12}(\.[0-9]{1,9})?$")
PRINTABLE = "^[^\\u0000-\\u0008\\u000b-\\u001f\\u007f-\\u009f]*$"  # documented; bodies and Text refuse more
YEARS = range(2000, 2100)


class Form(Schema):
    """Base of every schema: unknown members are refused."""

    class Meta:
        """marshmallow's options."""

        unknown = RAISE


class Text(fields.String):
    """A text in NFC of at most `longest` characters, without control characters."""

    def __init__(self, *, longest: int = 2000, shortest: int = 1, **kwargs: Any) -> None:
        """Bound the length; white space at the ends is cut."""
        kwargs["metadata"] = {"pattern": PRINTABLE, **kwargs.get("metadata", {})}
        super().__init__(validate=validate.Length(min=shortest, max=longest), **kwargs)

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> str:
        text = unicodedata.normalize("NFC", super()._deserialize(value, attr, data, **kwargs)).strip()
        if any(unicodedata.category(c) == "Cc" and c not in "\n\t" for c in text):
            raise ValidationError("Control characters are not allowed.")
        return text


class Whole(fields.Integer):
    """A whole number, written as one: 5.7, "5" and true are refused."""

    def __init__(self, *, least: int = 0, most: int = 1_000_000, **kwargs: Any) -> None:
        """Bound the number on both sides."""
        super().__init__(strict=True, validate=validate.Range(least, most), **kwargs)

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> int:
        if isinstance(value, bool) or not isinstance(value, int):
            raise ValidationError("Not a valid integer.")
        return value


class QueryWhole(fields.Integer):
    """A whole number in a query string: ASCII digits only."""

    def __init__(self, *, least: int = 0, most: int = 1_000_000, **kwargs: Any) -> None:
        """Bound the number on both sides."""
        super().__init__(validate=validate.Range(least, most), **kwargs)

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> int:
        if not re.fullmatch(r"-?[0-9]{1,10}", str(value)):
            raise ValidationError("Not a valid integer.")
        return int(value)


class Number(fields.Float):
    """A finite number within bounds; text and booleans are refused unless `text` is set (queries)."""

    def __init__(
        self,
        *,
        least: float = -1e9,
        most: float = 1e9,
        above: float | None = None,
        text: bool = False,
        **kwargs: Any,
    ) -> None:
        """Bound the number: `least` and `most` included, `above` excluded."""
        limits = validate.Range(above if above is not None else least, most, min_inclusive=above is None)
        super().__init__(validate=limits, **kwargs)
        self.text = text

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> float:
        if self.text and isinstance(value, str) and DECIMAL.fullmatch(value):
            return float(value)
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            raise ValidationError("Not a valid number.")
        return float(value)


class Exact(fields.Decimal):
    """A decimal number in ASCII digits, given as text or number; kept exactly, answered as text."""

    def __init__(
        self, *, least: str = "0", most: str = "1000000000", above: bool = False, **kwargs: Any
    ) -> None:
        """Bound the number; `above` excludes the lower bound."""
        super().__init__(as_string=True, **kwargs)
        self._bounds = (Decimal(least), Decimal(most))
        self._above = above

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> Decimal:
        number = exact(value)
        least, most = self._bounds
        if number < least or number > most or (self._above and number == least):
            word = "more than" if self._above else "at least"
            raise ValidationError(f"Must be {word} {least} and at most {most}.")
        return number


def exact(value: Any) -> Decimal:
    """A finite decimal from a JSON number or an ASCII decimal text; ValidationError otherwise."""
    if isinstance(value, bool) or not isinstance(value, int | float | str):
        raise ValidationError("Not a valid number.")
    try:
        number = (
            Decimal(value) if isinstance(value, str) and DECIMAL.fullmatch(value) else Decimal(repr(value))
        )
    except InvalidOperation:
        raise ValidationError("Not a valid number.") from None
    if not number.is_finite():
        raise ValidationError("Not a finite number.")
    return number


class Instant(fields.AwareDateTime):
    """A moment in RFC 3339 with its offset, between 2000 and 2100; answered in UTC with Z."""

    def __init__(self, **kwargs: Any) -> None:
        """An instant has no options of its own."""
        super().__init__(format="iso", default_timezone=None, **kwargs)

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> datetime:
        if not isinstance(value, str) or not RFC3339.fullmatch(value):
            raise ValidationError("Not an RFC 3339 date-time with offset, like 2026-03-02T09:30:00Z.")
        try:
            moment = datetime.fromisoformat(value.upper()).astimezone(UTC)
        except (ValueError, OverflowError):
            raise ValidationError("There is no such moment.") from None
        if moment.year not in YEARS:
            raise ValidationError("The year must be between 2000 and 2099.")
        return moment


class Day(fields.Date):
    """A calendar day `YYYY-MM-DD` in the nursery's time zone."""

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> date:
        if not isinstance(value, str) or not DAY.fullmatch(value):
            raise ValidationError("Not a day like 2026-03-02.")
        day: date = super()._deserialize(value, attr, data, **kwargs)
        if day.year not in YEARS:
            raise ValidationError("The year must be between 2000 and 2099.")
        return day


class Ref(fields.String):
    """The id of another thing, in its canonical text form."""

    def __init__(self, **kwargs: Any) -> None:
        """An id has no options of its own."""
        super().__init__(metadata={"format": "uuid"}, **kwargs)

    def _deserialize(
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> str:
        try:
            return str(UUID(super()._deserialize(value, attr, data, **kwargs)))
        except ValueError:
            raise ValidationError("Not an id.") from None


class AmountForm(Form):
    """An amount as clients write it: a value and a UCUM code."""

    value = fields.Raw(
        required=True,
        metadata={"oneOf": [{"type": "number"}, {"type": "string", "pattern": DECIMAL.pattern}]},
    )
    unit = fields.String(
        required=True, metadata={"enum": [*amounts.UNITS], "example": "mL", "description": "UCUM code"}
    )


class AmountField(fields.Nested):
    """An amount of one of the given dimensions, above zero unless `zero` is allowed."""

    def __init__(self, *dimensions: str, zero: bool = False, signed: bool = False, **kwargs: Any) -> None:
        """Name the dimensions that make sense here, such as "volume" and "mass"."""
        super().__init__(AmountForm, **kwargs)
        self.dimensions = dimensions
        self.zero = zero
        self.signed = signed

    def _deserialize(  # type: ignore[override]  # Nested gives a dict, we give an Amount
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> amounts.Amount:
        form = super()._deserialize(value, attr, data, **kwargs)
        unit = form["unit"]
        if unit not in amounts.UNITS:
            raise ValidationError({"unit": [f"Unknown unit. Use one of: {' '.join(amounts.UNITS)}."]})
        if amounts.dimension(unit) not in self.dimensions:
            wanted = " or ".join(self.dimensions)
            raise ValidationError({"unit": [f"This is a {amounts.dimension(unit)}; a {wanted} is needed."]})
        try:
            number = exact(form["value"])
        except ValidationError as problem:
            raise ValidationError({"value": problem.messages}) from problem
        if not self.signed and (number < 0 or (number == 0 and not self.zero)):
            raise ValidationError(
                {"value": ["Must be greater than zero." if not self.zero else "Must not be negative."]}
            )
        if abs(number) > 10**9:
            raise ValidationError({"value": ["Too large."]})
        return amounts.Amount(number, unit)
