"""What a recall still owes, and whether it may be closed."""

from service.recalls.rules import (
    CustomerProgress,
    LotProgress,
    Verdict,
    closing_reasons,
    known_reasons,
    notice_reasons,
    verdict_reasons,
)
from tests.recalls.histories import moment

OWING = LotProgress("a", "F-1", ended=False, looked_at=None)
LOOKED = LotProgress("b", "F-2", ended=False, looked_at=moment(2))
ENDED = LotProgress("c", "F-3", ended=True, looked_at=None)
TOLD = CustomerProgress("x", moment(3))
UNTOLD = CustomerProgress("y", None)


def test_a_look_is_owed_as_long_as_plants_are_left() -> None:
    assert [lot.owes_look for lot in (OWING, LOOKED, ENDED)] == [True, False, False]


def test_every_look_and_notice_owed_is_named() -> None:
    reasons = closing_reasons(closed=False, grown=0, lots=[OWING, LOOKED, ENDED], customers=[TOLD, UNTOLD])
    assert [(reason.code, reason.have) for reason in reasons] == [
        ("look-owed", "F-1"),
        ("customer-not-told", "y"),
    ]


def test_what_owes_nothing_may_be_closed_but_once() -> None:
    assert closing_reasons(closed=False, grown=0, lots=[LOOKED, ENDED], customers=[TOLD]) == []
    [again] = closing_reasons(closed=True, grown=2, lots=[OWING], customers=[UNTOLD])
    assert again.code == "recall-closed"


def test_a_customer_is_told_once_while_the_recall_is_open() -> None:
    assert notice_reasons(closed=False, told=False) == []
    assert notice_reasons(closed=False, told=True)[0].code == "told-already"
    assert notice_reasons(closed=True, told=False)[0].code == "recall-closed"


def test_not_ours_is_said_only_after_the_plants_left_were_looked_at() -> None:
    [owed] = verdict_reasons(judged=False, verdict=Verdict.NOT_OURS, lots=[OWING, LOOKED, ENDED])
    assert (owed.code, owed.have) == ("look-owed", "F-1")
    assert verdict_reasons(judged=False, verdict=Verdict.NOT_OURS, lots=[LOOKED, ENDED]) == []
    assert verdict_reasons(judged=False, verdict=Verdict.OURS, lots=[OWING]) == []
    [again] = verdict_reasons(judged=True, verdict=Verdict.OURS, lots=[])
    assert again.code == "judged-already"


def test_what_came_newly_within_reach_is_taken_in_first() -> None:
    [reason] = closing_reasons(closed=False, grown=2, lots=[LOOKED], customers=[TOLD])
    assert (reason.code, reason.have) == ("reach-grown", 2)


def test_a_complaint_that_is_known_is_asked_to_be_confirmed() -> None:
    assert known_reasons(None) == []
    [reason] = known_reasons("c-1")
    assert (reason.code, reason.needed, reason.have) == ("complaint-known", "confirm_duplicate", "c-1")
