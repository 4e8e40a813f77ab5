"""Local days of the ledger."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from itertools import groupby
from typing import Any

from sqlalchemy import ColumnElement, Select, and_, case, cast, select

from service.core.clock import day_start
from service.core.db import ID_TYPE
from service.stores.models import StockEntry
from service.treatments.models import Bath


@dataclass(frozen=True)
class Span:
    """Local days, both included; None is open."""

    since: date | None = None
    until: date | None = None

    def holds(self, day: date) -> bool:
        """Whether a day lies in it."""
        return (self.since is None or self.since <= day) and (self.until is None or day <= self.until)

    def days(self) -> Iterator[date]:
        """Each day of a closed span in turn. ValueError for an open one."""
        if self.since is None or self.until is None:
            raise ValueError("An open span has no last day.")
        for n in range((self.until - self.since).days + 1):
            yield self.since + timedelta(days=n)

    def months(self) -> Iterator["Span"]:
        """A closed span cut at the ends of calendar months. ValueError for an open one."""
        for _, days in groupby(self.days(), key=lambda day: (day.year, day.month)):
            of_month = list(days)
            yield Span(of_month[0], of_month[-1])


def within(statement: Select[Any], span: Span, zone: str) -> Select[Any]:
    """The lines of the ledger of these local days."""
    if span.since is not None:
        statement = statement.where(StockEntry.at >= day_start(span.since, zone))
    if span.until is not None:
        statement = statement.where(StockEntry.at < day_start(span.until + timedelta(days=1), zone))
    return statement


def drawn_for_bath() -> ColumnElement[bool]:
    """Joins a line with the bath that it was drawn for."""
    of_bath = StockEntry.cause_kind == "bath"
    # Baths are found by their key only as it stands; the cause of another kind is not an id.
    return and_(of_bath, Bath.id == case((of_bath, cast(StockEntry.cause_id, ID_TYPE))))


def undone() -> Select[Any]:
    """The ids of the lines that were reversed."""
    return select(StockEntry.reverses_id).where(StockEntry.reverses_id.is_not(None))
