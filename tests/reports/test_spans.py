"""Local days in a row: one by one and month by month."""

from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.reports.spans import Span

DAYS = st.dates(date(1999, 1, 1), date(2030, 12, 31))


def test_a_span_is_cut_at_the_ends_of_its_months() -> None:
    found = list(Span(date(2027, 12, 30), date(2028, 2, 1)).months())
    assert found == [
        Span(date(2027, 12, 30), date(2027, 12, 31)),
        Span(date(2028, 1, 1), date(2028, 1, 31)),
        Span(date(2028, 2, 1), date(2028, 2, 1)),
    ]


@given(DAYS, DAYS)
def test_the_months_of_a_span_hold_each_of_its_days_once(one: date, other: date) -> None:
    span = Span(min(one, other), max(one, other))
    assert [day for month in span.months() for day in month.days()] == list(span.days())


@pytest.mark.parametrize("span", [Span(), Span(since=date(2026, 1, 1)), Span(until=date(2026, 1, 1))])
def test_an_open_span_has_no_days_to_go_through(span: Span) -> None:
    with pytest.raises(ValueError, match="no last day"):
        list(span.days())
