"""Where an official list of plants binds: by country and subdivision (ISO 3166)."""

from collections.abc import Mapping
from typing import Any

_MEMBERS = "AT BE BG CY CZ DE DK EE ES FI FR GR HR HU IE IT LT LU LV MT NL PL PT RO SE SI SK"
EUROPEAN_UNION = frozenset(_MEMBERS.split())
"""Alpha-2 codes of the 27 member states (ISO 3166-1; from memory, union as of 2020)."""


def applies(jurisdiction: str, country: str, subdivision: str | None) -> bool:
    """Whether a list of `jurisdiction` ("EU", "US", "US-VT") binds at a place.

    A list of a subdivision binds in the whole country while the subdivision is not known.
    """
    if jurisdiction == "EU":
        return country in EUROPEAN_UNION
    if "-" in jurisdiction:
        return subdivision == jurisdiction or (subdivision is None and jurisdiction.startswith(f"{country}-"))
    return jurisdiction == country


def listing(plant: str, entry: Mapping[str, Any]) -> str:
    """That a plant is on a list, in words, with the list's date when it is known."""
    only = "" if "-" not in entry["jurisdiction"] else f" (in {entry['jurisdiction']})"
    since = f", as of {entry['date']}" if entry.get("date") else ""
    return f"{plant} is on {entry['list']}{only}{since}. Check your local list."
