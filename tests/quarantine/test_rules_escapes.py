"""What confirmed escapes teach."""

import pytest

from service.quarantine.rules_escapes import Tally, learnt, with_escapes
from service.quarantine.rules_prior import Record
from service.reference.loader import shipped
from service.science.freedom import never_seen_after_escapes

DETECTION = shipped().detection


def test_a_pest_that_escaped_is_seen_less_surely_at_every_stage_and_no_other_pest_is() -> None:
    found = learnt(DETECTION, {"pond_snail": Tally(found=9, escaped=1)})
    for stage in ("egg", "hatchling", "juvenile", "adult"):
        before, after = DETECTION.row("pond_snail", stage), found.row("pond_snail", stage)
        assert before is not None
        assert after is not None
        assert after.never_seen_share == never_seen_after_escapes(before.never_seen_share, 9, 1)
        assert (after.eyes, after.strain, after.bait) == (before.eyes, before.strain, before.bait)
        other = found.row("bladder_snail", stage)
        assert other is not None
        assert other.never_seen_share == before.never_seen_share


def test_a_row_of_one_pest_is_raised_as_well() -> None:
    found = learnt(DETECTION, {pest: Tally(0, 1) for row in DETECTION.rows for pest in row.pests})
    assert len(found.rows) == sum(len(row.pests) for row in DETECTION.rows)


def test_nothing_escaped_leaves_the_assumed_shares() -> None:
    assert learnt(DETECTION, {}) == DETECTION


@pytest.mark.parametrize(
    ("looked_at", "unseen", "then"),
    [
        (0, 0, Record(1.25, 3.75)),
        (1, 0, Record(2.25, 2.75)),
        (0, 1, Record(2.25, 3.75)),
        (4, 0, Record(5, 0)),
    ],
)
def test_a_lot_whose_customers_found_a_pest_came_infested(looked_at: int, unseen: int, then: Record) -> None:
    assert with_escapes(Record(1.25, 3.75), looked_at=looked_at, unseen=unseen) == then
