"""A sheet as it is kept when a step starts, and as it is shown again."""

from collections.abc import Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any

from service.science.amounts import Amount

AS_IT_IS = frozenset({"also", "reads"})  # measures that no choice of units changes


def freeze(value: Any) -> Any:
    """A sheet as it can be kept in JSON; amounts become value and unit, moments text."""
    if isinstance(value, Amount):
        return {"value": float(value.value), "unit": value.unit}
    if isinstance(value, Mapping):
        return {name: freeze(item) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [freeze(item) for item in value]
    return value.isoformat() if isinstance(value, datetime) else value


def thaw(value: Any) -> Any:
    """A kept sheet with its amounts again, so that they are shown in the asked units."""
    if isinstance(value, Mapping):
        if set(value) == {"value", "unit"}:
            return Amount(Decimal(str(value["value"])), value["unit"])
        return {name: item if name in AS_IT_IS else thaw(item) for name, item in value.items()}
    return [thaw(item) for item in value] if isinstance(value, list) else value
