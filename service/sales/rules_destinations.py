"""Where a plant may not be sent: official lists by country and subdivision (ISO 3166)."""

from collections.abc import Mapping, Sequence
from typing import Any

from service.core.reasons import Reason

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


def destination_reasons(
    plant: str, lists: Sequence[Mapping[str, Any]], country: str, subdivision: str | None
) -> list[Reason]:
    """Why a plant may not be sent to a place: each list that names it there, with its date."""
    return [
        Reason("restricted-there", _detail(plant, entry), needed=entry["jurisdiction"], have=country)
        for entry in lists
        if applies(entry["jurisdiction"], country, subdivision)
    ]


def _detail(plant: str, entry: Mapping[str, Any]) -> str:
    only = "" if "-" not in entry["jurisdiction"] else f" (in {entry['jurisdiction']})"
    return f"{plant} is on {entry['list']}{only}, as of {entry['date']}. Check your local list."
