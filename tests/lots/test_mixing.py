"""Who shares water with whom (common practice, no source: all in, all out within 48 hours)."""

from datetime import UTC, datetime, timedelta

import pytest

from service.lots.mixing import Origin, is_closed, mixes, same_water, strangers, tub_reasons

NOON = datetime(2026, 3, 2, 12, tzinfo=UTC)
A = Origin("A", "own-a")
B = Origin("B", "own-b")
X1, X2 = Origin("X1", "tub-1", "bag"), Origin("X2", "tub-2", "bag")


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [(A, A, True), (A, B, False), (X1, X2, True), (A, Origin("C", "own-a"), True), (X1, A, False)],
)
def test_one_tub_or_one_bag_is_one_water(*, one: Origin, other: Origin, same: bool) -> None:
    assert same_water(one, other) is same


@pytest.mark.parametrize(
    ("movers", "others", "by_intent", "expected"),
    [
        ([A], [], False, []),
        ([A], [B], False, ["B"]),
        ([A], [B], True, ["B"]),
        ([A, B], [], False, ["B"]),
        ([A, B], [], True, []),
        ([X1], [X2], False, []),
        ([X1, A], [X2], False, ["X2", "A"]),
        ([X1, X2], [], False, []),
    ],
)
def test_strangers_are_asked_about(
    *, movers: list[Origin], others: list[Origin], by_intent: bool, expected: list[str]
) -> None:
    assert strangers(movers, others, by_intent=by_intent) == expected


def test_waters_mix_when_they_differ() -> None:
    assert not mixes([A], [])
    assert not mixes([A], [Origin("C", "own-a")])
    assert mixes([A, B], [])
    assert mixes([X1], [X2])


@pytest.mark.parametrize(
    ("since", "closed"),
    [(None, False), (NOON - timedelta(hours=48), False), (NOON - timedelta(hours=48, seconds=1), True)],
)
def test_a_tub_is_filled_within_48_hours(*, since: datetime | None, closed: bool) -> None:
    assert is_closed(since, NOON) is closed


@pytest.mark.parametrize(
    ("change", "expected"),
    [
        ({}, []),
        ({"active": False}, ["tub-inactive"]),
        ({"locked": True}, ["regulated-lock"]),
        ({"treating": True}, ["tub-in-treatment"]),
        ({"closed_since": NOON}, ["tub-closed"]),
        ({"closed_since": NOON, "strangers": ["B"]}, ["tub-closed", "water-shared"]),
        ({"closed_since": NOON, "strangers": ["B"], "share_water": True}, ["tub-closed"]),
        ({"strangers": ["B"]}, ["water-shared"]),
        ({"strangers": ["B"], "share_water": True}, []),
        ({"sealed": ["A"], "active": False}, ["sealed-cups", "tub-inactive"]),
    ],
)
def test_a_tub_says_why_it_takes_no_lot(change: dict[str, object], expected: list[str]) -> None:
    asked = {
        "active": True,
        "locked": False,
        "treating": False,
        "closed_since": None,
        "sealed": [],
        "strangers": [],
        "share_water": False,
        **change,
    }
    assert [reason.code for reason in tub_reasons(**asked)] == expected  # type: ignore[arg-type]  # by name
