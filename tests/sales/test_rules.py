"""Whether units of a lot may leave the house."""

import pytest

from service.sales.rules import dispatch_reasons


@pytest.mark.parametrize(
    ("state", "holds", "valid", "codes"),
    [
        ("cleared", [], True, []),
        ("cleared", [], False, ["certificate-not-valid"]),
        ("cleared", ["doubt", "melt"], True, ["held", "held"]),
        ("in_quarantine", [], False, ["not-cleared"]),
        ("received", ["doubt"], False, ["not-cleared", "held"]),
    ],
)
def test_only_cleared_unheld_certified_lots_are_sold(
    state: str, holds: list[str], valid: bool, codes: list[str]
) -> None:
    assert [r.code for r in dispatch_reasons(state, holds, certificate_valid=valid)] == codes
