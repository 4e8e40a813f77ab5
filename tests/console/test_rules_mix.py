"""What the reasons against a treatment mean, and what it is credited with."""

import pytest

from service.console.rules_mix import Verdict, free_tub, grouped_credits, verdict


@pytest.mark.parametrize(
    ("codes", "found"),
    [
        ([], Verdict.FITS),
        (["trial-stems-needed"], Verdict.TRY_FIRST),
        (["trial-stems-needed", "plant-avoids-method"], Verdict.OWNER_ONLY),
        (["trial-stems-needed", "insufficient-stock"], Verdict.BLOCKED),
    ],
)
def test_the_gravest_reason_decides(codes: list[str], found: Verdict) -> None:
    assert verdict([{"code": code} for code in codes]) is found


def test_a_reason_without_a_code_blocks() -> None:
    assert verdict([{"detail": "The tub holds 40 L."}]) is Verdict.BLOCKED


def test_they_are_shown_in_the_order_of_their_gravity() -> None:
    assert [one.rank for one in Verdict] == [0, 1, 2, 3]


def test_an_empty_tub_comes_before_one_in_which_something_stands() -> None:
    tubs = [{"id": "T1"}, {"id": "T2"}]
    assert free_tub(tubs, {"T1"}) == {"id": "T2"}
    assert free_tub(tubs, {"T1", "T2"}) == {"id": "T1"}
    assert free_tub([], set()) is None


def test_credits_of_one_figure_and_source_stand_together_the_surest_first() -> None:
    credit = {"kill": 0.8, "grade": "C", "source": "reports"}
    found = grouped_credits(
        [
            {**credit, "stage": "egg", "pest": "pond_snail"},
            {**credit, "stage": "egg", "pest": "bladder_snail"},
            {**credit, "kill": 0.92, "stage": "adult", "pest": "pond_snail"},
        ]
    )
    assert [(one["kill"], one["of"]) for one in found] == [
        (0.92, [("adult", ["pond_snail"])]),
        (0.8, [("egg", ["bladder_snail", "pond_snail"])]),
    ]
