"""Journey (d): a recall of a sold lot finds the right customers and no others, over HTTP.

The right ones are those that the brute-force tracer (`tests.recalls.ways`) finds in the diary of all acts.
"""

from collections.abc import Callable
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from service.core.db import Database
from tests.api import Api
from tests.make_recalls import recall
from tests.recalls.nursery import Nursery
from tests.recalls.ways import arrivals, customers
from tests.soak import figure

TUBS = ("S1", "S2", "T1", "T2", "T3")
NETS = ("N1", "N2")


def built(api: Api, database: Database) -> Nursery:
    place = Nursery(api, database)
    place.system("S")
    for tub in TUBS:
        place.tub(tub, "S" if tub.startswith("S") else None)
    for net in NETS:
        place.net(net)
    return place


def found_as_it_was(place: Nursery, recalled: str) -> Any:
    """Recall a lot and hold lots and customers against the brute-force tracer."""
    names = {id_: name for name, id_ in place.ids.items()}
    answer = recall(place.api, lot_id=place.ids[recalled])
    assert {names[item["lot_id"]] for item in answer["lots"]} == set(arrivals(place.diary, recalled))
    assert {who["customer_ref"] for who in answer["customers"]} == customers(place.diary, recalled)
    return answer


def test_a_day_in_which_every_way_is_taken(api: Api, database: Database) -> None:
    place = built(api, database)
    place.receive([("A", "S1", "bag 1"), ("B", "T1", "bag 1"), ("C", "S2", None)])
    place.receive([("D", "T2", None), ("E", "T3", None), ("F", None, None)])
    place.sell("D", "before the net came")
    place.split("A", "A-1", None)
    place.use("N1", "S1")
    place.wash("N1", hot=False)
    place.use("N1", "T2")
    place.use("N2", "S2")
    place.wash("N2", hot=True)
    place.use("N2", "T3")
    for lot in ("A", "A-1", "B", "C", "D", "E", "F"):
        place.sell(lot, f"customer of {lot}")
    found = found_as_it_was(place, "A")
    told = {who["customer_ref"] for who in found["customers"]}
    assert told == {f"customer of {lot}" for lot in ("A", "A-1", "B", "C", "D")}
    ways = {item["lot_id"]: [hop["way"] for hop in item["path"]] for item in found["lots"]}
    assert [ways[place.ids[lot]] for lot in ("A", "A-1", "B", "C", "D")] == [
        [],
        ["split"],
        ["bag"],
        ["water"],
        ["tool"],
    ]
    assert [bool(api.grower.seen(f"/lots/{place.ids[lot]}")["holds"]) for lot in "ABCDEF"] == [
        True,
        True,
        True,
        True,
        False,
        False,
    ]


def test_a_tub_that_left_the_water_system_had_shared_its_water(api: Api, database: Database) -> None:
    place = built(api, database)
    place.receive([("A", "S1", None), ("B", "S2", None), ("C", "T1", None)])
    place.move("B", "T2")
    place.plumb("S2", None)
    place.sell("B", "customer of B")
    assert {who["customer_ref"] for who in found_as_it_was(place, "A")["customers"]} == {"customer of B"}


def test_a_tub_that_joined_a_water_system_had_not_shared_its_water_before(
    api: Api, database: Database
) -> None:
    place = built(api, database)
    place.receive([("A", "S1", None), ("B", "T1", None)])
    place.move("B", "T2")
    place.plumb("T1", "S")
    place.sell("B", "customer of B")
    assert found_as_it_was(place, "A")["customers"] == []


@st.composite
def acts(draw: st.DrawFn) -> list[tuple[Any, ...]]:
    """What is done in a nursery, in this order; what the service refuses was not done."""
    tub, some_tub = st.sampled_from(TUBS), st.sampled_from([None, *TUBS])
    lot, net = st.integers(0, 7), st.sampled_from(NETS)
    kinds = st.one_of(
        st.tuples(st.just("move"), lot, tub),
        st.tuples(st.just("move"), lot, tub),
        st.tuples(st.just("split"), lot, some_tub),
        st.tuples(st.just("plumb"), tub, st.sampled_from([None, "S"])),
        st.tuples(st.just("use"), net, tub),
        st.tuples(st.just("use"), net, tub),
        st.tuples(st.just("wash"), net, st.booleans()),
        st.tuples(st.just("sell"), lot),
    )
    bags = st.sampled_from([None, None, "1"])
    lots = draw(st.lists(st.tuples(some_tub, bags), min_size=3, max_size=4))
    return [("receive", lots), *draw(st.lists(kinds, min_size=8, max_size=14))]


def done(place: Nursery, chosen: list[tuple[Any, ...]]) -> list[str]:
    """Do these acts; gives the names of the lots there are."""
    lots: list[str] = []
    verbs: dict[str, Callable[..., None]] = {
        "move": lambda n, tub: place.move(lots[n % len(lots)], tub),
        "split": lambda n, tub: place.split(lots[n % len(lots)], f"L{len(lots)}", tub),
        "plumb": place.plumb,
        "use": place.use,
        "wash": lambda net, hot: place.wash(net, hot=hot),
        "sell": lambda n: place.sell(lots[n % len(lots)], f"customer {len(place.diary.sales)}"),
    }
    for verb, *rest in chosen:
        if verb == "receive":
            place.receive([(f"L{n}", tub, bag) for n, (tub, bag) in enumerate(rest[0])])
        else:
            verbs[verb](*rest)
        lots = sorted(place.diary.tub_of[-1])
    return lots


@pytest.mark.soak
def test_whatever_was_done_the_right_customers_are_found_and_no_others(api: Api, database: Database) -> None:
    @settings(max_examples=figure(gate=8, full=400))
    @given(acts(), st.integers(0, 7))
    def ask(chosen: list[tuple[Any, ...]], which: int) -> None:
        place = built(api, database)
        lots = done(place, chosen)
        recalled = lots[which % len(lots)]
        place.sell(recalled, "the last customer")
        found_as_it_was(place, recalled)

    ask()
