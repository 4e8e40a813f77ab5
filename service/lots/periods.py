"""The period of a query in moments: a day is the nursery's, and counts whole."""

from collections.abc import Callable, Mapping
from datetime import date, datetime, timedelta
from typing import Any

from service.core.clock import day_start


def received_between(asked: Mapping[str, Any], zone: Callable[[], str]) -> dict[str, Any]:
    """The query with `received_from` (included) and `received_to` (excluded) as moments.

    The nursery's `zone` is asked for only where a day was given.
    """
    return {
        **asked,
        "received_from": _start(asked["received_from"], zone),
        "received_to": _end(asked["received_to"], zone),
    }


def _start(given: date | datetime | None, zone: Callable[[], str]) -> datetime | None:
    return given if isinstance(given, datetime) or given is None else day_start(given, zone())


def _end(given: date | datetime | None, zone: Callable[[], str]) -> datetime | None:
    if given is None:
        return None
    if isinstance(given, datetime):
        return given + timedelta(microseconds=1)
    return day_start(given + timedelta(days=1), zone())
