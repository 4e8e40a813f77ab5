"""Trial stems: a tenth, judged on day 2, 7 and 14 (decision 25; common practice, no source)."""

from datetime import UTC, datetime, timedelta

import pytest
from scipy.stats import binom

from service.treatments.rules_stems import (
    Judged,
    Tried,
    days_owed,
    doubt_reasons,
    due_at,
    judgement_reasons,
    lost_at_most,
    stems_reasons,
)

START = datetime(2026, 3, 2, 9, tzinfo=UTC)


def day(days: float) -> datetime:
    return START + timedelta(days=days)


def tried(*judged: tuple[float, int], stems: int = 5) -> Tried:
    return Tried(stems, START, [Judged(day(at), alive) for at, alive in judged])


@pytest.mark.parametrize(("stems", "most"), [(5, 0.45), (10, 0.26), (20, 0.14), (60, 0.049)])
def test_none_dead_still_leaves_a_bound(stems: int, most: float) -> None:
    # 1 - 0.05^(1/n): the exact one-sided limit (Hanley and Lippman-Hand 1983, JAMA 249:1743)
    assert lost_at_most(0, stems) == pytest.approx(1 - 0.05 ** (1 / stems))
    assert lost_at_most(0, stems) == pytest.approx(most, abs=5e-3)


def test_with_some_dead_the_bound_is_where_so_few_deaths_are_one_in_twenty() -> None:
    assert float(binom.cdf(1, 10, lost_at_most(1, 10))) == pytest.approx(0.05)
    assert lost_at_most(5, 5) == 1


@pytest.mark.parametrize(
    ("judged", "owed", "next_day"),
    [
        ((), [2, 7, 14], 2),
        (((1.4, 5),), [2, 7, 14], 2),
        (((1.5, 5),), [7, 14], 7),  # the morning of the second day
        (((6, 5),), [7, 14], 7),
        (((2, 5), (7, 5)), [14], 14),
        (((2, 5), (15, 5)), [7], 7),  # what nobody saw stays owed
        (((2, 5), (7, 5), (14, 5)), [], None),
        (((2, 4),), [7, 14], None),  # one died: there is nothing to wait for
    ],
)
def test_each_of_the_three_days_is_owed_until_it_was_seen(
    judged: tuple[tuple[float, int], ...], owed: list[int], next_day: int | None
) -> None:
    known = tried(*judged)
    assert days_owed(known) == owed
    assert due_at(known) == (None if next_day is None else day(next_day))


@pytest.mark.parametrize(
    ("stems", "units", "codes"),
    [
        (4, 40, []),
        (5, 40, ["more-than-a-tenth"]),
        (1, 5, []),
        (2, 5, ["more-than-a-tenth"]),
        (1, 1, ["one-plant-only"]),
    ],
)
def test_at_most_a_tenth_is_tried_and_never_the_only_plant(stems: int, units: int, codes: list[str]) -> None:
    assert [reason.code for reason in stems_reasons(stems, units)] == codes


@pytest.mark.parametrize(
    ("alive", "at", "codes"),
    [
        (4, 10, []),
        (5, 10, ["more-than-there-is"]),
        (3, 2, ["fewer-than-later"]),
        (6, 1, ["more-than-there-is"]),
    ],
)
def test_the_dead_stay_dead(alive: int, at: float, codes: list[str]) -> None:
    known = tried((7, 4))
    assert [reason.code for reason in judgement_reasons(known, alive, day(at))] == codes


@pytest.mark.parametrize(
    ("known", "units", "codes"),
    [
        (None, 40, ["trial-stems-needed"]),
        (None, 1, ["plant-avoids-method"]),
        (tried((2, 5), (7, 5)), 40, ["trial-stems-waiting"]),
        (tried((2, 5), (7, 5), (14, 5)), 40, []),
        (tried((2, 5), (7, 5), (14, 5)), 1, []),  # the others were sold meanwhile
        (tried((2, 5), (7, 5), (14, 4)), 40, ["plant-avoids-method"]),
    ],
)
def test_a_doubtful_method_waits_for_its_stems(known: Tried | None, units: int, codes: list[str]) -> None:
    found = doubt_reasons("26-001-01", "bleach_dip", "caution", known, units=units)
    assert [reason.code for reason in found] == codes
