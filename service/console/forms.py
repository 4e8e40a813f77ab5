"""Reading forms: what people type becomes the members of a body; what is wrong goes back beside its field."""

import re
from collections.abc import Mapping
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

from flask import request
from flask_babel import gettext

from service.console.door import bench

DECIMAL = re.compile(r"^-?\d+(?:[.,]\d+)?$")
WHOLE = re.compile(r"^\d{1,9}$")


def text(name: str) -> str | None:
    """A line of text, None when it was left empty."""
    return request.form.get(name, "").strip() or None


def ticked(name: str) -> bool:
    """Whether a box is ticked."""
    return name in request.form


def whole(name: str) -> int | str | None:
    """A whole number; what is none is handed on as it is, for the interface to refuse."""
    found = text(name)
    return int(found) if found and WHOLE.match(found) else found


def number(name: str) -> float | str | None:
    """A number with a point or a comma; what is none is handed on as it is."""
    found = text(name)
    return float(found.replace(",", ".")) if found and DECIMAL.match(found) else found


def amount(name: str) -> dict[str, Any] | None:
    """An amount of two fields: `name` and `name_unit`."""
    value = number(name)
    return None if value is None else {"value": value, "unit": text(f"{name}_unit") or "L"}


def moment(name: str) -> str | None:
    """A local date and time of the nursery as a moment, None when left empty (which means now)."""
    found = text(name)
    if found is None:
        return None
    try:
        local = datetime.fromisoformat(found)
    except ValueError:
        return found
    return local.replace(tzinfo=ZoneInfo(bench().zone)).isoformat()


def when() -> dict[str, Any]:
    """`at` and `late_reason`, where a form asks for them; an act kept without signal says when it was."""
    said = {"at": moment("at"), "late_reason": text("late_reason")}
    if said["at"] is None and text("kept_at"):
        said = {"at": text("kept_at"), "late_reason": gettext("kept on the device without signal")}
    return {name: value for name, value in said.items() if value is not None}


def rows(prefix: str) -> list[str]:
    """The numbers of repeated rows that were sent: `lines-0-plant`, `lines-1-plant` ..."""
    pattern = re.compile(rf"^{re.escape(prefix)}-(\d+)-")
    found = {match[1] for name in request.form if (match := pattern.match(name))}
    return sorted(found, key=int)


def without_empty(body: Mapping[str, Any]) -> dict[str, Any]:
    """A body without the members that were left empty."""
    return {name: value for name, value in body.items() if value is not None}
