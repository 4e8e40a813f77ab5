"""The rules of time and the chain: what a late entry needs, how entries hang on each other."""

import hashlib
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from decimal import Decimal
from typing import Any

import rfc8785

from service.core.reasons import Reason

SKEW = timedelta(seconds=60)
PROMPT = timedelta(hours=24)
GENESIS = "0" * 64


def judge_time(at: datetime, now: datetime, late_reason: str | None, limit_days: int) -> list[Reason]:
    """Why something may not be entered as having happened `at`, when it is `now`.

    Nothing lies in the future (60 s of clock skew allowed); more than 24 h late needs a reason;
    later than `limit_days` is refused.
    """
    if at > now + SKEW:
        return [
            Reason("time-in-future", "This time lies in the future.", now.isoformat(), at.isoformat(), "#/at")
        ]
    if now - at > timedelta(days=limit_days):
        detail = f"Entries may be at most {limit_days} days late."
        return [Reason("entry-too-late", detail, limit_days, (now - at).days, "#/at")]
    if now - at > PROMPT and not late_reason:
        detail = "This happened more than 24 hours ago: say why it is entered late in late_reason."
        return [Reason("late-reason-missing", detail, pointer="#/late_reason")]
    return []


def entry_hash(previous: str, entry: Mapping[str, Any]) -> str:
    """SHA-256(0x00 || canonical entry || previous hash), hex; numbers count as text (RFC 8785 JSON)."""
    return hashlib.sha256(b"\x00" + rfc8785.dumps(canonical(entry)) + previous.encode()).hexdigest()


def digest(value: Any) -> str:
    """SHA-256 of a JSON value in canonical form, hex: what an entry says of a document kept elsewhere."""
    return hashlib.sha256(rfc8785.dumps(canonical(value))).hexdigest()


def canonical(value: Any) -> Any:
    """A JSON value with every number as text, so that no printing of floats can break the chain."""
    if isinstance(value, Mapping):
        return {str(name): canonical(item) for name, item in value.items()}
    if isinstance(value, list | tuple):
        return [canonical(item) for item in value]
    if isinstance(value, int | float) and not isinstance(value, bool):
        return repr(value)
    return value


def chained(seq: int, entry: Mapping[str, Any], about: Sequence[tuple[str, str]]) -> dict[str, Any]:
    """The part of an entry that its hash covers: everything but the hash itself."""
    return {
        **entry,
        "seq": seq,
        "at": entry["at"].isoformat(),
        "recorded_at": entry["recorded_at"].isoformat(),
        "subjects": [list(pair) for pair in sorted(about)],
    }


def plain(value: Any) -> Any:
    """A value as it can be kept in JSON: moments as ISO text, decimals as text."""
    if isinstance(value, Mapping):
        return {str(name): plain(item) for name, item in value.items()}
    if isinstance(value, list | tuple | set | frozenset):
        return [plain(item) for item in value]
    if isinstance(value, datetime | date):
        return value.isoformat()
    return str(value) if isinstance(value, Decimal) else value
