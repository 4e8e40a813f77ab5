"""What may come back: no more than was sent (decision 23)."""

from typing import Any

import pytest

from service.sales.rules_returns import return_reasons, returned_code


def line(lot: str, quantity: int) -> dict[str, Any]:
    return {"lot_id": lot, "quantity": quantity}


@pytest.mark.parametrize(
    ("lines", "found"),
    [
        ([line("a", 6)], []),
        ([line("a", 5), line("b", 4)], []),
        ([line("a", 7)], [("more-than-sent", "#/lines/0/quantity")]),
        ([line("b", 5)], [("more-than-sent", "#/lines/0/quantity")]),  # one came back before
        ([line("a", 1), line("c", 1)], [("not-sent", "#/lines/1/lot_id")]),
        ([line("a", 1), line("a", 1)], [("named-twice", "#/lines/1/lot_id")]),
    ],
)
def test_no_more_comes_back_than_is_still_away(
    lines: list[dict[str, Any]], found: list[tuple[str, str]]
) -> None:
    reasons = return_reasons(lines, {"a": 6, "b": 5}, {"b": 1})
    assert [(reason.code, reason.pointer) for reason in reasons] == found


def test_each_return_has_a_code_of_its_own() -> None:
    assert [returned_code("26-031-02", before) for before in (0, 1)] == ["26-031-02-R1", "26-031-02-R2"]
