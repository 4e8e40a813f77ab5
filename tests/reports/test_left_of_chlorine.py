"""What a neutraliser leaves of the chlorine of its treatment."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.reports.rules_neutralised import Poured, left_of_chlorine

THIOSULFATE = "sodium_thiosulfate_pentahydrate"


def chlorine(name: str, milligrams: int | None) -> Poured:
    return Poured(name, "chlorine", milligrams)


def agent(milligrams: int | None, of: str = THIOSULFATE) -> Poured:
    return Poured("agent", "agent", milligrams, of)


# By hand, from the equation Cl2 + 2 S2O3(2-) -> 2 Cl- + S4O6(2-), the weakest of thiosulfate's reactions (any
# textbook of iodometry): 2 x 248.18 / 70.906 = 7.0 g of the pentahydrate for a gram. The others are one mole
# to one (ascorbate 198.11 g/mol, sulfite 126.04 g/mol): 2.794 and 1.778 g, a tenth of what is there unused.
@pytest.mark.parametrize(
    ("of", "milligrams", "left"),
    [
        (THIOSULFATE, 700, 900),
        (THIOSULFATE, 7000, 0),
        (THIOSULFATE, 70_000, 0),
        (THIOSULFATE, 6, 1000),  # less than a whole milligram of chlorine
        ("sodium_ascorbate", 307, 901),  # 307 / 3.0734 = 99.9
        ("sodium_sulfite", 196, 900),  # 196 / 1.9558 = 100.2
        ("table_salt", 7000, 1000),
    ],
)
def test_an_agent_takes_what_it_surely_takes(of: str, milligrams: int, left: int) -> None:
    assert left_of_chlorine([chlorine("dip", 1000), agent(milligrams, of)]) == {"dip": left}


def test_the_oldest_chlorine_is_taken_first_and_later_chlorine_not_at_all() -> None:
    lines = [chlorine("first", 100), chlorine("second", 100), agent(1050), chlorine("third", 100)]
    assert left_of_chlorine(lines) == {"first": 0, "second": 50, "third": 100}


def test_two_neutralisers_add_up() -> None:
    assert left_of_chlorine([chlorine("dip", 300), agent(700), agent(700)]) == {"dip": 100}


def test_chlorine_of_unknown_strength_stays_unknown_and_may_have_used_the_agent_up() -> None:
    assert left_of_chlorine([chlorine("old", None), chlorine("new", 100), agent(7000)]) == {
        "old": None,
        "new": 100,
    }


def test_an_agent_of_unknown_mass_takes_nothing_for_sure() -> None:
    assert left_of_chlorine([chlorine("dip", 100), agent(None)]) == {"dip": 100}


def test_copper_is_not_reckoned() -> None:
    assert left_of_chlorine([Poured("dose", "copper", 100), agent(7000)]) == {}


@given(st.lists(st.tuples(st.booleans(), st.integers(0, 10**6)), max_size=12))
def test_nothing_is_taken_twice(steps: list[tuple[bool, int]]) -> None:
    lines = [
        chlorine(str(place), milligrams) if poured else agent(milligrams)
        for place, (poured, milligrams) in enumerate(steps)
    ]
    left = left_of_chlorine(lines)
    before = sum(milligrams for poured, milligrams in steps if poured)
    can_take = sum(milligrams / 7 for poured, milligrams in steps if not poured)
    assert all(0 <= (left[line.entry_id] or 0) <= (line.active_mg or 0) for line in lines if not line.agent)
    assert before - sum(found or 0 for found in left.values()) <= can_take + 1e-6
