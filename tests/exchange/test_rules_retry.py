"""When a delivery is tried again.

The delays and what the statuses mean are those of the Standard Webhooks specification, "Deliverability and
reliability"; Retry-After is RFC 9110, section 10.2.3.
"""

from datetime import UTC, datetime, timedelta
from itertools import accumulate

import pytest

from service.exchange.rules_retry import DELAYS, Verdict, asked_to_wait, next_try, verdict
from tests.reference.outside import Kind, outside

NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)


@outside(Kind.STANDARD, "Standard Webhooks: retries up to 75 h 35 min 5 s after the first attempt")
def test_the_last_attempt_is_three_days_after_the_first() -> None:
    assert [*accumulate(DELAYS)][-1] == timedelta(hours=75, minutes=35, seconds=5)


def test_every_failed_attempt_but_the_last_has_a_next_one() -> None:
    waits = [next_try(attempts, NOW, 0) for attempts in range(1, 11)]
    assert [None if due is None else due - NOW for due in waits] == [*DELAYS, None]


def test_chance_spreads_the_attempts_by_a_tenth() -> None:
    assert next_try(2, NOW, 1) == NOW + timedelta(minutes=5, seconds=30)


def test_an_endpoint_may_ask_for_more_time_but_not_for_less_nor_for_more_than_a_day() -> None:
    assert next_try(1, NOW, 0, timedelta(minutes=1)) == NOW + timedelta(minutes=1)
    assert next_try(2, NOW, 0, timedelta(minutes=1)) == NOW + timedelta(minutes=5)
    assert next_try(1, NOW, 0, timedelta(days=9)) == NOW + timedelta(days=1)


@outside(Kind.STANDARD, "RFC 9110, section 10.2.3")
@pytest.mark.parametrize(
    ("header", "wait"),
    [
        ("120", timedelta(seconds=120)),
        ("0", timedelta()),
        ("Mon, 02 Mar 2026 09:02:00 GMT", timedelta(minutes=2)),
        ("Mon, 02 Mar 2026 09:02:00 -0000", timedelta(minutes=2)),
        ("Mon, 02 Mar 2026 08:00:00 GMT", timedelta()),
        ("99999999999999", timedelta(days=1)),
        ("soon", None),
        ("-5", None),
        (None, None),
    ],
)
def test_how_long_to_wait_is_read_as_seconds_or_as_a_date(header: str | None, wait: timedelta | None) -> None:
    assert asked_to_wait(header, NOW) == wait


@outside(Kind.STANDARD, "Standard Webhooks: 2xx alone is success, 410 disables, 429, 502 and 504 throttle")
@pytest.mark.parametrize(
    ("statuses", "meaning"),
    [
        ((200, 201, 202, 204, 299), Verdict.DELIVERED),
        ((100, 300, 301, 302, 303, 307, 308, 400, 401, 404, 409, 500, None), Verdict.FAILED),
        ((429, 502, 503, 504), Verdict.SLOW_DOWN),
        ((410,), Verdict.GONE),
    ],
    ids=str,
)
def test_what_an_answer_means(statuses: tuple[int | None, ...], meaning: Verdict) -> None:
    assert {verdict(status) for status in statuses} == {meaning}
