"""Time-respecting reach, by hand-made cases and against a tracer written independently."""

from datetime import timedelta
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.recalls.rules_facts import NEVER, Cleaning, Facts, Place, Split, Use
from service.recalls.rules_tracing import Direction, Hop, Reached, Way, holder, path, trace
from tests.recalls.histories import LAST, as_facts, histories, hour, moment
from tests.recalls.tracer import History, arrivals, departures
from tests.soak import figure

FORWARD, BACK = Direction.FORWARD, Direction.BACK


def stood(lot: str, water: str, since: int, until: int | None = None) -> Place:
    return Place(lot, water, water, moment(since), NEVER if until is None else moment(until))


def used(tool: str, water: str, at: int, *, written: int | None = None) -> Use:
    return Use(
        f"{tool}{water}{at}", tool, water, water, moment(at), moment(at if written is None else written)
    )


def hours(facts: Facts, lot: str, at: int, direction: Direction = FORWARD) -> dict[str, int]:
    found = trace({lot: moment(at)}, lambda _: facts, direction)
    return {reached.lot: hour(reached.at) for reached in found.values()}


def test_water_shared_reaches_both_ways_from_the_later_entry_on() -> None:
    facts = Facts([stood("A", "T1", 0), stood("B", "T1", 3)])
    assert hours(facts, "A", 1) == {"A": 1, "B": 3}
    assert hours(facts, "B", 5) == {"B": 5, "A": 5}


def test_one_leaving_as_the_other_enters_did_not_meet() -> None:
    facts = Facts([stood("A", "T1", 0, 3), stood("B", "T1", 3)])
    assert hours(facts, "A", 0) == {"A": 0}
    assert hours(facts, "B", 9, BACK) == {"B": 9}


def test_no_way_leads_backward_in_time() -> None:
    facts = Facts([stood("A", "T1", 0, 2), stood("B", "T1", 0, 2), stood("A", "T2", 4), stood("C", "T2", 4)])
    assert hours(facts, "B", 0) == {"B": 0, "A": 0, "C": 4}
    assert hours(facts, "C", 4) == {"C": 4, "A": 4}
    assert hours(facts, "C", 9, BACK) == {"C": 9, "A": 9, "B": 1}


def test_a_split_carries_on_and_traces_back_up_to_the_moment() -> None:
    facts = Facts(splits=[Split("A", "A-1", moment(4))])
    assert hours(facts, "A", 4) == {"A": 4, "A-1": 4}
    assert hours(facts, "A", 5) == {"A": 5}
    assert hours(facts, "A-1", 9, BACK) == {"A-1": 9, "A": 4}
    assert hours(facts, "A-1", 3, BACK) == {"A-1": 3}


def test_a_tool_carries_one_way_until_it_is_disinfected() -> None:
    places = [stood("A", "T1", 0), stood("B", "T2", 0)]
    carried = Facts(places, uses=[used("N", "T1", 2), used("N", "T2", 5)])
    assert hours(carried, "A", 2) == {"A": 2, "B": 5}
    assert hours(carried, "A", 3) == {"A": 3}
    assert hours(carried, "B", 0) == {"B": 0}
    assert hours(carried, "B", 9, BACK) == {"B": 9, "A": 2}
    assert hours(carried, "B", 4, BACK) == {"B": 4}
    for at, reached in ((2, True), (3, False), (5, False), (6, True)):
        cleaned = Facts(places, uses=carried.uses, cleanings=[Cleaning("N", moment(at), moment(at))])
        assert ("B" in hours(cleaned, "A", 0)) is reached
        assert ("A" in hours(cleaned, "B", 9, BACK)) is reached


def test_a_bath_carries_from_those_dipped_first_to_those_dipped_later() -> None:
    dips = [Use(str(n), "bath", t, t, moment(n), moment(n), is_bath=True) for n, t in ((1, "T1"), (2, "T2"))]
    facts = Facts([stood("A", "T1", 0), stood("B", "T2", 0)], uses=dips)
    found = trace({"A": moment(0)}, lambda _: facts, FORWARD)
    assert found["B"].hop == Hop(Way.BATH, "A", "B", moment(1), moment(2), "T1", "T2", "bath")
    assert hours(facts, "B", 0) == {"B": 0}


def test_a_tool_meets_a_lot_that_enters_at_its_moment_and_no_lot_that_leaves_at_it() -> None:
    uses = [used("N", "T1", 2), used("N", "T2", 5)]
    entering = Facts([stood("A", "T1", 2), stood("B", "T2", 5)], uses=uses)
    assert hours(entering, "A", 2) == {"A": 2, "B": 5}
    leaving = Facts([stood("A", "T1", 0, 2), stood("B", "T2", 0, 5)], uses=uses)
    assert hours(leaving, "A", 0) == {"A": 0}
    gone = Facts([stood("A", "T1", 0), stood("B", "T2", 0, 5)], uses=uses)
    assert hours(gone, "A", 0) == {"A": 0}


def test_a_disinfection_written_after_the_contact_was_told_undoes_nothing() -> None:
    uses = [used("N", "T1", 2), used("N", "T2", 5)]
    places = [stood("A", "T1", 0), stood("B", "T2", 0)]
    late = [Cleaning("N", moment(3), moment(8))]
    assert "B" in hours(Facts(places, uses=uses, cleanings=late), "A", 0)
    told_later = [uses[0], used("N", "T2", 5, written=9)]
    assert "B" not in hours(Facts(places, uses=told_later, cleanings=late), "A", 0)


def test_a_tool_that_stays_with_one_water_carries_nothing() -> None:
    facts = Facts(
        [stood("A", "T1", 0, 3), stood("B", "T1", 4)], uses=[used("N", "T1", 1), used("N", "T1", 5)]
    )
    assert hours(facts, "A", 0) == {"A": 0}


def test_a_tool_dipped_where_nobody_stands_brings_nothing_there_but_goes_on() -> None:
    places = [stood("A", "T1", 0), stood("C", "T3", 0)]
    uses = [used("N", "T1", 1), used("N", "T2", 2), used("N", "T3", 3)]
    assert hours(Facts(places, uses=uses), "A", 0) == {"A": 0, "C": 3}


def test_the_way_is_told_in_the_order_of_time() -> None:
    facts = Facts(
        [
            stood("A", "T1", 0),
            stood("B", "T1", 3, 6),
            Place("B", "s", None, moment(0), moment(1)),
            Place("D", "s", None, moment(0), moment(1)),
        ],
        [Split("B", "B-1", moment(7))],
    )
    found = trace({"A": moment(1)}, lambda _: facts, FORWARD)
    ways = [
        Hop(Way.WATER, "A", "B", moment(3), moment(6), "T1", "T1"),
        Hop(Way.SPLIT, "B", "B-1", moment(7), moment(7)),
    ]
    assert path("B-1", found, FORWARD) == ways
    assert path("A", found, FORWARD) == []
    back = trace({"B-1": moment(9)}, lambda _: facts, BACK)
    assert path("A", back, BACK) == ways
    assert [hop.way for hop in path("D", back, BACK)] == [Way.BAG, Way.SPLIT]
    assert back["A"] == Reached("A", moment(6) - timedelta(microseconds=1), ways[0])


def test_before_a_split_the_plants_were_part_of_the_parent() -> None:
    origins = {"A-1-1": ("A-1", moment(6)), "A-1": ("A", moment(3))}
    assert [holder("A-1-1", moment(n), origins) for n in (2, 3, 5, 6)] == ["A", "A-1", "A-1", "A-1-1"]


@pytest.mark.soak
@settings(max_examples=figure(gate=60, full=5000))
@given(histories(), st.data())
def test_forward_reach_is_what_the_independent_tracer_finds(history: History, data: st.DataObject) -> None:
    begun = data.draw(
        st.dictionaries(st.sampled_from(history.lots), st.integers(0, LAST), min_size=1, max_size=2)
    )
    facts = as_facts(history)
    found = trace({lot: moment(at) for lot, at in begun.items()}, lambda _: facts, FORWARD)
    assert {lot: hour(reached.at) for lot, reached in found.items()} == arrivals(history, begun, LAST + 2)
    for lot, reached in found.items():
        _holds_together(path(lot, found, FORWARD), begun, lot)
        assert reached.at == moment(hour(reached.at))


@pytest.mark.soak
@settings(max_examples=figure(gate=30, full=1000))
@given(histories(), st.data())
def test_back_reach_is_what_the_independent_tracer_finds(history: History, data: st.DataObject) -> None:
    lot, at = data.draw(st.sampled_from(history.lots)), data.draw(st.integers(0, LAST))
    assert hours(as_facts(history), lot, at, BACK) == departures(history, lot, at)


def _holds_together(hops: list[Hop], begun: dict[str, int], lot: str) -> None:
    if not hops:
        assert lot in begun
        return
    assert hops[0].source in begun
    assert hops[-1].target == lot
    for one, following in pairwise(hops):
        assert one.target == following.source
        arrived = one.until if one.way is Way.TOOL else one.since
        left = following.since if following.way in (Way.TOOL, Way.SPLIT) else following.until
        assert arrived <= left
