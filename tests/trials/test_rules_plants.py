"""How plants fared, and what that says of their tolerance."""

from typing import Any

import pytest

from service.trials.rules_plants import Plants, Survived, survived, tolerance_level, watched

WELL = {"leaves": 5, "roots": 5, "melt": 5, "new_growth": 5}
DEAD = dict.fromkeys(WELL)


def row(label: str, fate: str = "alive", points: int = 5, **more: Any) -> dict[str, Any]:
    scores: dict[str, Any] = DEAD if fate == "dead" else dict.fromkeys(WELL, points)
    return {"label": label, "grown": "submersed", "fate": fate, **scores, **more}


def plants(*rows: tuple[int, dict[str, Any]], arm: str = "alum", units: int = 0) -> Plants:
    labels = dict.fromkeys([*(one["label"] for _, one in rows), *(f"v{n}" for n in range(units))])
    return Plants(arm, arm == "control", "p1", "Anubias barteri", tuple(labels), tuple(rows))


def group(units: int, dead: int, *, points: int = 5, arm: str = "alum") -> Survived:
    rows = [(0, row(f"u{n}")) for n in range(units)]
    rows += [(14, row(f"u{n}", "dead" if n < dead else "alive", points)) for n in range(units)]
    found = survived(plants(*rows, arm=arm), None)
    assert found is not None
    return found


def test_a_unit_that_was_taken_or_seen_no_more_is_not_dead() -> None:
    told = plants(
        (3, row("u1")),
        (7, row("u1", "dead")),
        (3, row("u2")),
        (7, row("u2", "taken")),
        (3, row("u3")),
        units=1,
    )
    assert [(unit.days, unit.died) for unit in watched(told)] == [(7, True), (7, False), (3, False)]
    found = survived(told, None)
    assert found is not None
    assert (found.watched, found.dead, found.taken) == (3, 1, 1)
    # By hand: on day 7 two are watched (u3 was last seen on day 3), one dies.
    assert found.survival.estimate == pytest.approx(0.5)


def test_units_that_nobody_judged_have_no_curve() -> None:
    assert survived(plants(units=3), None) is None


def test_all_alive_is_no_proof_that_all_live() -> None:
    found = group(10, 0)
    assert found.survival.estimate == 1
    # Clopper and Pearson: 0.025^(1/10) = 0.6915.
    assert found.survival.low == pytest.approx(0.025 ** (1 / 10))


def test_none_alive_has_an_upper_limit() -> None:
    found = group(10, 10)
    assert found.survival.estimate == 0
    assert found.survival.high == pytest.approx(1 - 0.025 ** (1 / 10))


def test_plants_are_held_against_the_control_where_a_death_can_tell() -> None:
    rows = [(14, row(f"u{n}", "dead" if n < 8 else "alive")) for n in range(10)]
    control = plants(*[(14, row(f"c{n}")) for n in range(10)], arm="control")
    found = survived(plants(*rows), control)
    assert found is not None
    assert found.against is not None
    assert found.against.chance < 0.01
    spared = survived(plants((14, row("u1"))), control)
    assert spared is not None
    assert spared.against is None
    assert survived(plants((14, row("u1"))), plants(arm="control")).against is None  # type: ignore[union-attr]


def test_leaves_grown_emersed_and_submersed_are_judged_apart() -> None:
    found = survived(plants((7, row("u1", points=5)), (7, row("u1", points=2, grown="emersed"))), None)
    assert found is not None
    assert [(one.grown, one.means["leaves"]) for one in found.condition] == [("emersed", 2), ("submersed", 5)]


@pytest.mark.parametrize(
    ("own", "control", "level"),
    [
        (group(4, 0), group(20, 0), "unknown"),
        (group(8, 0), group(20, 0), "caution"),
        (group(20, 1), group(20, 0), "tolerates"),
        (group(20, 4), group(20, 0), "caution"),
        (group(20, 6), group(20, 0), "avoid"),
        (group(20, 6), group(20, 4), "tolerates"),
        (group(20, 0, points=4), group(20, 0), "caution"),
        (group(20, 6), None, "avoid"),
        (group(20, 20), group(20, 0), "avoid"),
    ],
)
def test_tolerance_follows_what_was_lost_beyond_the_control(
    own: Survived, control: Survived | None, level: str
) -> None:
    found, why = tolerance_level(own, control)
    assert found == level
    assert str(own.watched) in why
