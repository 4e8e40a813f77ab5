"""When a delivery is tried again, and what an answer means (Standard Webhooks, on deliverability)."""

from datetime import UTC, datetime, timedelta
from email.utils import parsedate_to_datetime
from enum import StrEnum

# After each failed attempt; the last attempt is 75 h 35 min 5 s after the first, then the delivery is parked.
DELAYS = (
    timedelta(seconds=5),
    timedelta(minutes=5),
    timedelta(minutes=30),
    timedelta(hours=2),
    timedelta(hours=5),
    timedelta(hours=10),
    timedelta(hours=14),
    timedelta(hours=20),
    timedelta(hours=24),
)
SPREAD = 0.1  # so much later at most, by chance: endpoints that failed together are not all tried at once
LONGEST_WAIT = timedelta(hours=24)  # an endpoint may not ask for more


class Verdict(StrEnum):
    """What an answer means for the delivery and its endpoint."""

    DELIVERED = "delivered"
    FAILED = "failed"
    SLOW_DOWN = "slow_down"  # the endpoint is throttled: nothing of any subject is sent for a while
    GONE = "gone"  # the endpoint wants no more


def verdict(status: int | None) -> Verdict:
    """What a status means; None when there was no answer. Only 2xx is success, a redirect is none."""
    if status is not None and 200 <= status < 300:
        return Verdict.DELIVERED
    if status == 410:
        return Verdict.GONE
    return Verdict.SLOW_DOWN if status in {429, 502, 503, 504} else Verdict.FAILED


def next_try(attempts: int, now: datetime, share: float, asked: timedelta | None = None) -> datetime | None:
    """When the attempt after `attempts` failed ones is due; None when that was the last.

    `share` (0..1) is the chance part of the delay, `asked` what the endpoint asked to wait.
    """
    if attempts > len(DELAYS):
        return None
    delay = DELAYS[attempts - 1] * (1 + SPREAD * share)
    return now + max(delay, min(asked or timedelta(), LONGEST_WAIT))


def asked_to_wait(header: str | None, now: datetime) -> timedelta | None:
    """What Retry-After says (RFC 9110, section 10.2.3: seconds or an HTTP date); None when nothing."""
    if header is None:
        return None
    text = header.strip()
    if text.isascii() and text.isdigit():
        return min(timedelta(seconds=int(text[:9])), LONGEST_WAIT)
    try:
        moment = parsedate_to_datetime(text)
    except ValueError:
        return None
    aware = moment if moment.tzinfo else moment.replace(tzinfo=UTC)
    return min(max(aware - now, timedelta()), LONGEST_WAIT)
