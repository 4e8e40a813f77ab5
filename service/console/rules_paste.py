"""What people paste: a supplier's lines, and what a logger has kept."""

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

UNIT_WORDS = {
    "pot": "pot",
    "pots": "pot",
    "bunch": "bunch",
    "bunches": "bunch",
    "stem": "stem",
    "stems": "stem",
    "portion": "portion",
    "portions": "portion",
    "cup": "cup",
    "cups": "cup",
    "mat": "mat",
    "mats": "mat",
}
COUNT = re.compile(r"(?<![\w.])(\d{1,5})(?:\s*[x×])?(?![\w.%/])")
NOISE = re.compile(r"[^\w\s'×-]|(?<!\w)-|-(?!\w)")
LEAST_LETTERS = 3
NUMBER = re.compile(r"^-?\d+(?:[.,]\d+)?$")


@dataclass(frozen=True)
class PastedLine:
    """One line as understood; `plants` are the ids that it may mean, the likeliest first."""

    text: str
    quantity: int | None
    unit: str | None
    plants: tuple[str, ...]


def pasted(text: str, plants: Sequence[Mapping[str, Any]]) -> list[PastedLine]:
    """Every line that says something; a count alone on its line says nothing."""
    known = [(_bare(name), plant["id"]) for plant in plants for name in names_of(plant)]
    found = [_line(raw, known) for raw in text.splitlines() if re.search(r"[^\W\d_]{3}", raw)]
    return [line for line in found if line is not None]


def parts_of(text: str, plants: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """The parts of a line, like `top layer 12; bottom layer 8`: name, count if there is one, kind if known.

    A part whose name is that of exactly one plant is of that kind.
    """
    known = [(_bare(name), plant["id"]) for plant in plants for name in names_of(plant)]
    return [_part(one, known) for one in re.split(r"[;\n]", text) if one.strip()]


def _part(raw: str, known: Sequence[tuple[str, str]]) -> dict[str, Any]:
    count = COUNT.search(raw)
    name = raw if count is None else f"{raw[: count.start()]} {raw[count.end() :]}"
    name = " ".join(name.split()).strip(" ,:-") or raw.strip()
    kinds = {plant for other, plant in known if other == _bare(name)}
    return {
        "name": name,
        "quantity": int(count[1]) if count else None,
        "plant_id": kinds.pop() if len(kinds) == 1 else None,
    }


def names_of(plant: Mapping[str, Any]) -> list[str]:
    """Every name a plant is known by."""
    return [plant["scientific_name"], *plant["trade_names"], *plant["synonyms"]]


def _line(raw: str, known: Sequence[tuple[str, str]]) -> PastedLine | None:
    count = COUNT.search(raw)
    rest = raw if count is None else f"{raw[: count.start()]} {raw[count.end() :]}"
    words = NOISE.sub(" ", rest).split()
    units = [UNIT_WORDS[word.casefold()] for word in words if word.casefold() in UNIT_WORDS]
    name = _bare(" ".join(word for word in words if word.casefold() not in UNIT_WORDS))
    quantity = int(count[1]) if count else None
    return PastedLine(raw.strip(), quantity, units[0] if units else None, _meant(name, known))


def _meant(name: str, known: Sequence[tuple[str, str]]) -> tuple[str, ...]:
    """The plants whose name it is, else those whose name it holds, else those that begin like it."""
    exact = [plant for other, plant in known if other == name]
    inside = [
        (len(other), plant)
        for other, plant in known
        if len(other) >= LEAST_LETTERS and f" {other} " in f" {name} "
    ]
    longest = max((length for length, _ in inside), default=0)
    held = [plant for length, plant in inside if length == longest]
    begins = [plant for other, plant in known if len(name) >= LEAST_LETTERS and other.startswith(name)]
    return tuple(dict.fromkeys(exact or held or begins))


def _bare(name: str) -> str:
    return " ".join(re.sub(r"[×'’]|(?<=\s)x(?=\s)", " ", name.casefold()).split())


def pasted_readings(text: str, zone: str) -> list[tuple[str, float | str]]:
    """The (moment, temperature) of each line of a logger: an ISO 8601 time, a separator, a number.

    A time without an offset is one of the nursery's zone; lines that begin with no digit are headings. What
    is no time or no number is handed on as it is, for the interface to refuse.
    """
    found: list[tuple[str, float | str]] = []
    for line in text.splitlines():
        if not line[:1].isdigit():
            continue
        at, value = [*(part.strip() for part in re.split(r"[;,\t]", line.strip(), maxsplit=1)), ""][:2]
        found.append((_moment(at, zone), float(value.replace(",", ".")) if NUMBER.match(value) else value))
    return found


def _moment(text: str, zone: str) -> str:
    try:
        at = datetime.fromisoformat(text)
    except ValueError:
        return text
    return (at if at.tzinfo else at.replace(tzinfo=ZoneInfo(zone))).isoformat()
