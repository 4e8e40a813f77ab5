"""What people paste: a supplier's lines, and what a logger has kept."""

from typing import Any

import pytest

from service.console.rules_paste import PastedLine, parts_of, pasted, pasted_readings


def plant(id_: str, name: str, trade: str = "", synonym: str = "") -> dict[str, Any]:
    named = {"trade_names": [trade] if trade else [], "synonyms": [synonym] if synonym else []}
    return {"id": id_, "scientific_name": name, **named}


PLANTS = [
    plant("A", "Anubias barteri", "Anubias", "Anubias nana"),
    plant("B", "Leptochilus pteropus", "Java fern", "Microsorum pteropus"),
    plant("C", "Leptochilus decurrens"),
    plant("X", "Aponogeton × lancasteri"),
]


@pytest.mark.parametrize(
    ("line", "quantity", "unit", "plants"),
    [
        ("24 pots Anubias barteri", 24, "pot", ("A",)),
        ("Anubias nana, pot, 12 x", 12, "pot", ("A",)),
        ("30x MICROSORUM PTEROPUS", 30, None, ("B",)),
        ("10 bunches java fern 'Narrow'", 10, "bunch", ("B",)),
        ("5 portions Leptochilus", 5, "portion", ("B", "C")),
        ("4 Aponogeton x lancasteri", 4, None, ("X",)),
        ("4 Aponogeton × lancasteri", 4, None, ("X",)),
        ("Java fern", None, None, ("B",)),
        ("7 Nosuch plantus", 7, None, ()),
        ("8 stems An", 8, "stem", ()),
    ],
)
def test_a_line_is_understood(
    line: str, quantity: int | None, unit: str | None, plants: tuple[str, ...]
) -> None:
    assert pasted(line, PLANTS) == [PastedLine(line, quantity, unit, plants)]


def test_lines_without_words_say_nothing() -> None:
    assert pasted("\n  \n12\n--\n3 pots Java fern\n", PLANTS) == [
        PastedLine("3 pots Java fern", 3, "pot", ("B",))
    ]


def test_a_logger_s_lines_are_times_of_the_nursery_unless_they_say_otherwise() -> None:
    read = pasted_readings(
        "time;celsius\n2026-03-02T09:00;21,4\n2026-03-02T10:00:00Z, 21.6\n", "Europe/Lisbon"
    )
    assert read == [("2026-03-02T09:00:00+00:00", 21.4), ("2026-03-02T10:00:00+00:00", 21.6)]


def test_what_is_no_time_or_no_number_is_left_for_the_rules_to_refuse() -> None:
    read = pasted_readings("9 o'clock, warm\n2026-03-02T09:00\n", "UTC")
    assert read == [("9 o'clock", "warm"), ("2026-03-02T09:00:00+00:00", "")]


@pytest.mark.parametrize(
    ("text", "parts"),
    [
        ("top 12; bottom 8", [("top", 12, None), ("bottom", 8, None)]),
        ("30 Java fern; Anubias nana: 10", [("Java fern", 30, "B"), ("Anubias nana", 10, "A")]),
        ("first bag;; second bag ;", [("first bag", None, None), ("second bag", None, None)]),
        ("12", [("12", 12, None)]),
        ("", []),
    ],
)
def test_the_parts_of_a_line_are_understood(
    text: str, parts: list[tuple[str, int | None, str | None]]
) -> None:
    found = [(part["name"], part["quantity"], part["plant_id"]) for part in parts_of(text, PLANTS)]
    assert found == parts


def test_a_name_of_two_kinds_names_none() -> None:
    both = [plant("D", "Vallisneria one", "Val"), plant("E", "Vallisneria two", "Val")]
    assert parts_of("Val 3", both) == [{"name": "Val", "quantity": 3, "plant_id": None}]
