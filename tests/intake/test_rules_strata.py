"""Mixed lines: split by kind where the kinds were counted (decision 30)."""

from typing import Any

from service.intake.rules_strata import by_kind, strata_reasons


def part(name: str, quantity: int | None = None, plant: str | None = None) -> dict[str, Any]:
    return {"name": name, "quantity": quantity, "plant_id": plant}


def line(*strata: dict[str, Any], quantity: int = 40, bag: str | None = None) -> dict[str, Any]:
    return {"plant_id": "p0", "quantity": quantity, "unit_of_sale": "pot", "bag": bag, "strata": list(strata)}


def pointers(*strata: dict[str, Any]) -> list[tuple[str | None, Any, Any]]:
    reasons = strata_reasons(line(*strata), "#/lines/0/strata")
    return [(reason.pointer, reason.needed, reason.have) for reason in reasons]


def test_parts_are_counted_all_or_none_and_make_the_line() -> None:
    assert pointers() == []
    assert pointers(part("top", 30), part("bottom", 10)) == []
    assert pointers(part("green"), part("red")) == []
    assert pointers(part("top", 30), part("bottom", 9)) == [("#/lines/0/strata", 40, 39)]
    assert pointers(part("top", 40), part("bottom")) == [("#/lines/0/strata", 2, 1)]
    assert pointers(part("top", 30), part("top", 10)) == [("#/lines/0/strata/1/name", None, None)]


def test_counted_kinds_become_lines_of_their_own_in_one_bag() -> None:
    mixed = line(part("a", 10, "p1"), part("b", 20), part("c", 5, "p1"), part("d", 5, "p2"))
    plain = line(quantity=3)
    assert by_kind([plain, mixed]) == [
        plain,
        {
            **mixed,
            "plant_id": "p1",
            "quantity": 15,
            "bag": "mixed line 2",
            "strata": [part("a", 10), part("c", 5)],
        },
        {**mixed, "plant_id": "p0", "quantity": 20, "bag": "mixed line 2", "strata": []},
        {**mixed, "plant_id": "p2", "quantity": 5, "bag": "mixed line 2", "strata": []},
    ]


def test_the_bag_that_was_named_stays() -> None:
    split = by_kind([line(part("a", 10, "p1"), part("b", 30), bag="A")])
    assert [one["bag"] for one in split] == ["A", "A"]


def test_layers_of_one_kind_and_uncounted_kinds_stay_one_line() -> None:
    layers, kinds = line(part("top", 30), part("bottom", 10)), line(part("green", None, "p1"), part("red"))
    assert by_kind([layers, kinds]) == [layers, kinds]
