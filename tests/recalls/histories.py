"""Random histories of a small nursery, and the same history as our rules get it."""

from datetime import UTC, datetime, timedelta
from itertools import pairwise

from hypothesis import strategies as st

from service.recalls.rules_facts import Cleaning, Facts, Place, Split, Use
from tests.recalls.tracer import History

LAST = 8
BEGIN = datetime(2026, 3, 2, tzinfo=UTC)
WATERS = ("T1", "T2", "T3")


def moment(n: int) -> datetime:
    """The n-th hour of the history."""
    return BEGIN + timedelta(hours=n)


def hour(at: datetime) -> int:
    """The whole hour a moment lies in."""
    return (at - BEGIN) // timedelta(hours=1)


@st.composite
def histories(draw: st.DrawFn) -> History:
    """Lots that move from water to water, are split, and tools that go about, some of them disinfected."""
    lots = [f"L{n}" for n in range(draw(st.integers(2, 5)))]
    born = dict.fromkeys(lots, 0)
    splits = []
    for n in range(draw(st.integers(0, 2))):
        parent, at = draw(st.sampled_from(lots)), draw(st.integers(1, LAST))
        if at >= born[parent]:
            child = f"C{n}"
            lots.append(child)
            born[child] = at
            splits.append((parent, child, at))
    stays = []
    for lot in lots:
        edges = sorted(draw(st.sets(st.integers(born[lot], LAST + 1), min_size=2, max_size=4)) | {LAST + 2})
        for since, until in pairwise(edges):
            stays.append((lot, draw(st.sampled_from(WATERS)), since, until))
    tools = st.sampled_from(["N1", "N2"])
    hours = st.integers(0, LAST)
    uses = draw(st.lists(st.tuples(tools, st.sampled_from(WATERS), hours), max_size=8, unique=True))
    cleanings = draw(st.lists(st.tuples(tools, hours), max_size=3))
    return History(stays, splits, uses, cleanings, lots)


def as_facts(history: History) -> Facts:
    """The same history in the words of our rules."""
    return Facts(
        [Place(lot, water, water, moment(a), moment(b)) for lot, water, a, b in history.stays],
        [Split(parent, child, moment(at)) for parent, child, at in history.splits],
        [
            Use(str(n), tool, water, water, moment(at), moment(at))
            for n, (tool, water, at) in enumerate(history.uses)
        ],
        [Cleaning(tool, moment(at), moment(at)) for tool, at in history.cleanings],
    )
