"""When the clock starts (decisions 1 and 2 of the house; common practice, no source)."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.quarantine.rules import ClockFacts, FindNearby, Kill, clock, last_moment

START = datetime(2026, 3, 2, 9, tzinfo=UTC)


def day(days: float) -> datetime:
    return START + timedelta(days=days)


CREDITED = Kill("copper-course", day(30), day(12))
UNCREDITED = Kill("alum-soak", day(3), None)


def test_a_credited_course_starts_the_clock_at_its_credit_and_not_at_its_end() -> None:
    found = clock(ClockFacts(day(0), kills=[CREDITED]))
    assert (found.started_at, found.treated) == (day(12), True)


def test_a_credited_course_that_still_runs_starts_the_clock_too() -> None:
    assert clock(ClockFacts(day(0), kills=[Kill("copper-course", None, day(12))])).started_at == day(12)


def test_a_treatment_that_runs_without_credit_keeps_the_clock_from_starting() -> None:
    found = clock(ClockFacts(day(0), kills=[Kill("copper-course", None, None), CREDITED]))
    assert found.started_at is None
    assert "copper-course is not over" in found.reason


@pytest.mark.parametrize(
    ("facts", "started"),
    [
        (ClockFacts(day(20), kills=[CREDITED]), day(20)),
        (ClockFacts(day(0), kills=[CREDITED], finds=[day(5), day(19)]), day(19)),
        (ClockFacts(day(0), kills=[CREDITED], contacts=[day(18), day(2)]), day(18)),
        (ClockFacts(day(0), kills=[CREDITED, Kill("alum-soak", day(17), None)]), day(17)),
    ],
)
def test_the_clock_starts_at_the_latest_of_receipt_find_contact_and_killing_step(
    facts: ClockFacts, started: datetime
) -> None:
    assert clock(facts).started_at == started


def test_without_credit_it_starts_at_the_first_of_two_clean_adult_looks_three_days_apart() -> None:
    looks = [day(2), day(4), day(5), day(7)]
    found = clock(ClockFacts(day(0), kills=[UNCREDITED], adult_looks=looks))
    assert (found.started_at, found.treated) == (day(4), False)


@pytest.mark.parametrize(
    ("looks", "next_look", "words"),
    [([], day(3), "none is there yet"), ([day(2), day(4), day(6.9)], day(7), "still to come")],
)
def test_without_the_two_looks_it_has_not_started_and_says_what_is_owed(
    looks: list[datetime], next_look: datetime, words: str
) -> None:
    found = clock(ClockFacts(day(0), kills=[UNCREDITED], adult_looks=looks))
    assert (found.started_at, found.next_look_at) == (None, next_look)
    assert "two clean looks by strain or bait" in found.reason
    assert words in found.reason


def test_a_find_between_the_looks_makes_the_earlier_one_void() -> None:
    facts = ClockFacts(day(0), finds=[day(6)], adult_looks=[day(4), day(8), day(12)])
    assert clock(facts).started_at == day(8)


def test_a_find_next_door_counts_when_water_was_shared_since_the_clock() -> None:
    nearby = [FindNearby(at=day(10), shared_until=day(4))]
    assert last_moment(ClockFacts(day(0), nearby=nearby)) == day(10)


def test_a_find_next_door_does_not_count_when_the_clock_started_after_the_water_was_parted() -> None:
    nearby = [FindNearby(at=day(10), shared_until=day(4))]
    assert last_moment(ClockFacts(day(0), contacts=[day(5)], nearby=nearby)) == day(5)


@pytest.mark.parametrize(("found_on", "counts"), [(3.5, True), (9, False)])
def test_without_credit_the_clock_runs_since_its_first_clean_look_once_there_is_the_second(
    found_on: float, counts: bool
) -> None:
    nearby = [FindNearby(day(found_on), shared_until=day(2))]
    facts = ClockFacts(day(0), nearby=nearby, adult_looks=[day(3), day(7)])
    assert last_moment(facts) == (day(found_on) if counts else day(0))


def test_finds_next_door_are_judged_in_their_order() -> None:
    # The first find moves the clock past the moment at which the second water was parted.
    nearby = [FindNearby(day(12), day(4)), FindNearby(day(8), day(8))]
    assert last_moment(ClockFacts(day(0), nearby=nearby)) == day(8)


DAYS = st.integers(0, 60).map(day)


@given(
    finds=st.lists(DAYS, max_size=4),
    looks=st.lists(DAYS, max_size=6),
    more=DAYS,
    kills=st.sampled_from([(), (UNCREDITED,), (CREDITED,)]),
)
def test_a_further_find_or_contact_never_makes_the_clock_start_earlier(
    finds: list[datetime], looks: list[datetime], more: datetime, kills: tuple[Kill, ...]
) -> None:
    without = clock(ClockFacts(day(0), kills, finds, adult_looks=looks)).started_at
    for facts in (
        ClockFacts(day(0), kills, [*finds, more], adult_looks=looks),
        ClockFacts(day(0), kills, finds, contacts=[more], adult_looks=looks),
    ):
        started = clock(facts).started_at
        assert started is None or (without is not None and started >= without)


@given(finds=st.lists(DAYS, max_size=4), looks=st.lists(DAYS, min_size=1, max_size=6))
def test_a_look_that_was_not_made_never_makes_the_clock_start_earlier(
    finds: list[datetime], looks: list[datetime]
) -> None:
    with_all = clock(ClockFacts(day(0), finds=finds, adult_looks=looks)).started_at
    with_less = clock(ClockFacts(day(0), finds=finds, adult_looks=looks[1:])).started_at
    assert with_less is None or (with_all is not None and with_less >= with_all)


def test_sealed_cups_count_from_the_look_that_found_them_whole() -> None:
    found = clock(ClockFacts(day(0), kills=[UNCREDITED], sealed_since=day(1)))
    assert (found.started_at, found.treated, found.sealed) == (day(1), True, True)
