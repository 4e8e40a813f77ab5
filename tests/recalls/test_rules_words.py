"""Each way in a sentence."""

import pytest

from service.recalls.rules_tracing import Hop, Way
from service.recalls.rules_words import sentence
from tests.recalls.histories import moment

NAMES = {"a": "F-1", "b": "F-2", "s": "T1", "t": "T2", "n": "net 3"}


@pytest.mark.parametrize(
    ("hop", "said"),
    [
        (Hop(Way.SPLIT, "a", "b", moment(1), moment(1)), "F-2 was split off F-1 on 2026-03-02 01:00 UTC."),
        (
            Hop(Way.BAG, "a", "b", moment(1), moment(1)),
            "F-1 and F-2 came in one bag, unpacked on 2026-03-02 01:00 UTC.",
        ),
        (
            Hop(Way.WATER, "a", "b", moment(1), moment(2), "s", "s"),
            "F-1 and F-2 were in one water (tub T1) from 2026-03-02 01:00 UTC on.",
        ),
        (
            Hop(Way.WATER, "a", "b", moment(1), moment(2), "s", "t"),
            "F-1 and F-2 were in one water (tubs T1 and T2, one water system) from 2026-03-02 01:00 UTC on.",
        ),
        (
            Hop(Way.BATH, "a", "b", moment(1), moment(2), "s", "t", "bath"),
            "F-1 (tub T1) was dipped on 2026-03-02 01:00 UTC into a bath into which "
            "F-2 (tub T2) was dipped on 2026-03-02 02:00 UTC.",
        ),
        (
            Hop(Way.TOOL, "a", "b", moment(1), moment(2), "s", "t", "n"),
            "net 3 was in the water of F-1 (tub T1) on 2026-03-02 01:00 UTC and, "
            "not disinfected in between, in that of F-2 (tub T2) on 2026-03-02 02:00 UTC.",
        ),
    ],
)
def test_a_way_is_told(hop: Hop, said: str) -> None:
    assert sentence(hop, NAMES) == said
