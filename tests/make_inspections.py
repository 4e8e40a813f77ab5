"""Looks and findings for tests."""

from typing import Any

from tests.api import Api
from tests.make_lots import LATE, hours_ago


def found(pest: str = "bladder_snail", *, live: int = 1, **changes: Any) -> dict[str, Any]:
    """A finding of a grown snail, alive unless said otherwise."""
    return {"pest": pest, "stage": "adult", "live": live, **changes}


def look_body(*findings: dict[str, Any], hours: float = 0, **place: Any) -> dict[str, Any]:
    """A look so many hours ago; `place` names the lot or tub and whatever else is said."""
    when = {"at": hours_ago(hours), "late_reason": LATE} if hours else {}
    return {"findings": list(findings), **when, **place}


def look(api: Api, *findings: dict[str, Any], hours: float = 0, **place: Any) -> Any:
    """A look that the grower enters, as answered."""
    return api.grower.made("/inspections", look_body(*findings, hours=hours, **place))
