"""Where a plant may not be sent: official lists by country and subdivision (ISO 3166)."""

from collections.abc import Mapping, Sequence
from typing import Any

from service.catalogue.rules_places import applies, listing
from service.core.reasons import Reason


def destination_reasons(
    plant: str, lists: Sequence[Mapping[str, Any]], country: str, subdivision: str | None
) -> list[Reason]:
    """Why a plant may not be sent to a place: each list that names it there, with its date."""
    return [
        Reason("restricted-there", listing(plant, entry), needed=entry["jurisdiction"], have=country)
        for entry in lists
        if applies(entry["jurisdiction"], country, subdivision)
    ]
