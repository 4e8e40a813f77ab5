"""The rules of tubs, as tables."""

from datetime import UTC, datetime, timedelta

import pytest

from service.tubs import rules
from service.tubs.rules import Disinfection, Substance, TypedReading

NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)
HOT, FROZEN, BLEACH, DRIED = Disinfection


@pytest.mark.parametrize(
    ("method", "celsius", "minutes", "pest", "stage", "breaks"),
    [
        # Mitchell & Cole 2008: 50 °C kills operculate snails within a minute; 5 min are asked
        (HOT, 50.0, 5, None, None, True),
        (HOT, 49.9, 60, None, None, False),
        (HOT, 60.0, 4.9, None, None, False),
        (HOT, None, 10, None, None, False),
        (HOT, 50.0, 5, "planarian", "egg", True),
        # common practice, no source: 24 h frozen; no cocoon is trusted to it
        (FROZEN, -18.0, 24 * 60, None, None, True),
        (FROZEN, None, 24 * 60, None, None, True),
        (FROZEN, 2.0, 24 * 60, None, None, False),
        (FROZEN, -18.0, 23 * 60, None, None, False),
        (FROZEN, -18.0, 24 * 60, "planarian", "egg", False),
        (FROZEN, -18.0, 24 * 60, "planarian", "adult", True),
        # common practice, no source: bleach only for hydra and grown flatworms
        (BLEACH, None, 15, None, None, False),
        (BLEACH, None, 15, "hydra", None, True),
        (BLEACH, None, 14, "hydra", None, False),
        (BLEACH, None, 15, "planarian", "adult", True),
        (BLEACH, None, 15, "planarian", "egg", False),
        (BLEACH, None, 15, "bladder_snail", "adult", False),
        # Physella survives a week out of the water (Gulanicz et al. 2018): drying counts for nothing
        (DRIED, None, 7 * 24 * 60, None, None, False),
    ],
)
def test_what_breaks_a_contact_through_a_tool(
    method: Disinfection,
    celsius: float | None,
    minutes: float,
    pest: str | None,
    stage: str | None,
    breaks: bool,
) -> None:
    assert rules.breaks_contact(method, celsius, minutes, pest, stage=stage) is breaks


def test_hot_water_is_judged_by_its_temperature() -> None:
    assert [r.pointer for r in rules.disinfection_reasons(HOT, None)] == ["#/celsius"]
    assert rules.disinfection_reasons(HOT, 55) == []
    assert rules.disinfection_reasons(DRIED, None) == []


@pytest.mark.parametrize(
    ("substance", "value", "wrong"), [("ph", 14, False), ("ph", 14.1, True), ("copper", 90, False)]
)
def test_a_ph_lies_on_its_scale(substance: str, value: float, wrong: bool) -> None:
    assert bool(rules.measurement_reasons(Substance(substance), value)) is wrong


def reading(hours: float, celsius: float, n: int = 0) -> TypedReading:
    pointer = f"#/readings/{n}"
    at = NOW - timedelta(hours=hours)
    return TypedReading(at, celsius, celsius, "Cel", f"{pointer}/at", f"{pointer}/value")


def found(*readings: TypedReading, late_reason: str | None = None) -> list[tuple[str, str | None]]:
    return [(r.code, r.pointer) for r in rules.reading_reasons(readings, NOW, late_reason, 60)]


def test_plausible_prompt_readings_are_kept() -> None:
    assert found(reading(0, -1), reading(1, 45), reading(24, 21)) == []


def test_a_reading_that_cannot_be_is_named_by_its_place() -> None:
    assert found(reading(0, 20), reading(1, 45.1, 1)) == [("implausible", "#/readings/1/value")]
    assert found(reading(-1, 20)) == [("time-in-future", "#/readings/0/at")]
    assert found(reading(24 * 61, 20), late_reason="found the logger") == [
        ("entry-too-late", "#/readings/0/at")
    ]


def test_one_late_reason_stands_for_all() -> None:
    late = [reading(25 + n, 20, n) for n in range(3)]
    assert found(*late) == [("late-reason-missing", "#/late_reason")]
    assert found(*late, late_reason="read out on Monday") == []


def test_two_readings_of_one_moment_must_agree() -> None:
    assert found(reading(1, 20), reading(1, 20.0005, 1)) == []
    assert found(reading(1, 20), reading(1, 21, 1)) == [("contradiction", "#/readings/1/value")]
