"""What a status means to whoever holds the plants."""

from datetime import UTC, datetime

import pytest

from service.clearance.rules_status import meaning
from tests.clearance.test_words import held_against_official_words

SINCE = datetime(2026, 3, 2, 9, tzinfo=UTC)


@pytest.mark.parametrize(
    ("status", "says", "when"),
    [
        ("valid", "stands today", False),
        ("suspended", "for the time being", False),
        ("revoked", "took this statement back", True),
        ("superseded", "Another statement", True),
        ("expired", "time is over", True),
    ],
)
def test_each_status_is_told_in_plain_words(status: str, says: str, when: bool) -> None:
    text = meaning(status, SINCE)
    assert says in text
    assert ("2026-03-02 09:00 UTC" in text) == when
    held_against_official_words(text)
