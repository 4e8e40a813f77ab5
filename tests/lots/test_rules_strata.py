"""Parts of a lot: proportional strata, each rounded up (Lane, Cannon, Arthur and Robinson, NeoBiota 2018)."""

import pytest

from service.lots.rules_strata import Strata, after_repacking, are_counted, is_spread, kinds, shares


def part(name: str, quantity: int | None = None, plant: str | None = None) -> dict[str, object]:
    return {"name": name, "quantity": quantity, "plant_id": plant}


LAYERS: Strata = [part("top", 150), part("bottom", 50)]
KINDS: Strata = [part("green", plant="p1"), part("red", plant="p2"), part("as the line")]


def test_the_kinds_of_a_lot_are_those_of_its_parts() -> None:
    assert kinds("p1", []) == ["p1"]
    assert kinds("p1", LAYERS) == ["p1"]
    assert kinds("p0", KINDS) == ["p1", "p2", "p0"]


def test_each_part_of_the_sample_is_rounded_up() -> None:
    # ISPM 31: 51 of 200; of 150 and 50 that is 38.25 and 12.75
    assert shares(LAYERS, 51) == {"top": 39, "bottom": 13}


def test_of_untied_bunches_the_stems_are_shared_out() -> None:
    assert shares([part("a", 6), part("b", 2)], 48, units_each=6) == {"a": 36, "b": 12}


def test_a_lot_that_grew_since_is_looked_at_whole() -> None:
    assert shares(LAYERS, 210) == {"top": 150, "bottom": 50}


def test_parts_that_nobody_counted_have_no_share() -> None:
    assert not are_counted(KINDS)
    assert shares(KINDS, 10) == {}
    assert shares([], 10) == {}


@pytest.mark.parametrize(
    ("looked_at", "spread"),
    [
        ({"top": 39, "bottom": 13}, True),
        ({"top": 52, "bottom": 12}, False),
        ({"top": 200}, False),
        ({}, False),
    ],
)
def test_a_look_at_some_takes_in_enough_of_each_part(*, looked_at: dict[str, int], spread: bool) -> None:
    assert is_spread(looked_at, LAYERS, 51) is spread


def test_without_parts_every_look_is_spread_and_with_uncounted_ones_none() -> None:
    assert is_spread({}, [], 51)
    assert not is_spread({"green": 10}, KINDS, 10)


def test_other_units_keep_their_kinds_but_no_count() -> None:
    assert after_repacking(LAYERS) == []
    assert after_repacking([part("green", 5, "p1"), part("red", 3, "p2")]) == [
        part("green", plant="p1"),
        part("red", plant="p2"),
    ]
