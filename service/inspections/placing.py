"""Which looks count for a lot: those at itself or a forebear, and those at water while it was in it."""

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Row

from service.inspections.rules import LookMethod, is_whole_tub
from service.lots.models import Stay


def places(rows: Sequence[Row[Any]], waters: Mapping[str, Mapping[str, bool]]) -> Mapping[str, list[int]]:
    """Which of the looks, by their number, were at a lot or at water: by id of the lot or tub."""
    found: dict[str, list[int]] = defaultdict(list)
    for n, row in enumerate(rows):
        for place in (row.lot_id, *waters[row.id]):
            if place is not None:
                found[place].append(n)
    return found


def at_lot(row: Row[Any], lot_id: str, forebears: Iterable[tuple[str, datetime]]) -> bool:
    """Whether a look was at a lot, or at a forebear before the lot was split from it."""
    return row.lot_id == lot_id or any(
        row.lot_id == forebear and row.at <= until for forebear, until in forebears
    )


def at_water(row: Row[Any], water: Mapping[str, bool], stays: Iterable[Stay]) -> bool:
    """Whether a look was at the whole water a lot was in: a find reaches all of it, a clean one a tub."""
    whole_tub = is_whole_tub(LookMethod(row.method), of_tub=row.tub_id is not None)
    return whole_tub and any(
        stay.tub_id in water
        and (water[stay.tub_id] or not row.clean)
        and _was_in(stay, row.at, leaving=not row.clean)
        for stay in stays
    )


def _was_in(stay: Stay, at: datetime, *, leaving: bool) -> bool:
    # A find at the very moment a lot leaves is a find in its water; a clean look then is none.
    if stay.entered_at > at:
        return False
    return stay.left_at is None or stay.left_at > at or (leaving and stay.left_at == at)
