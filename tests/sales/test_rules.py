"""Whether units of a lot may leave the house."""

from datetime import UTC, datetime, timedelta

import pytest

from service.sales.rules import Good, dispatch_reasons

NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)
GOOD = Good(NOW + timedelta(days=9), NOW + timedelta(seconds=1))


@pytest.mark.parametrize(
    ("state", "holds", "good", "codes"),
    [
        ("cleared", [], GOOD, []),
        ("cleared", [], None, ["certificate-not-valid"]),
        ("cleared", [], Good(NOW, NOW), ["certificate-not-valid"]),
        ("cleared", [], Good(NOW + timedelta(seconds=1), NOW), ["look-overdue"]),
        ("cleared", ["doubt", "melt"], GOOD, ["held", "held"]),
        ("in_quarantine", [], None, ["not-cleared"]),
        ("received", ["doubt"], None, ["not-cleared", "held"]),
    ],
)
def test_only_cleared_unheld_certified_lots_are_sold(
    state: str, holds: list[str], good: Good | None, codes: list[str]
) -> None:
    assert [r.code for r in dispatch_reasons(state, holds, good, NOW)] == codes
