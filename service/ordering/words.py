"""The reasons of a reorder line, in words."""

from service.ordering.rules import COVER_DAYS, Reorder, Shelf
from service.stores.queries import in_words


def reasons(shelf: Shelf, line: Reorder) -> list[str]:
    """Why this is the day and the amount, for the person who orders."""
    said = (
        (not line.usable, "Nothing usable is left."),
        (line.committed > 0, f"Treatments under way still need {_amount(line, line.committed)}."),
        (line.committed > line.usable, f"That is more than the {_amount(line, line.usable)} that are there."),
        (not line.enough_history, "Fewer than two days of use on record: what comes cannot be foreseen."),
        (line.low and line.enough_history, _at_point(line)),
        (line.runs_out_on is not None, f"It runs out on {line.runs_out_on}."),
        (line.order_by is not None, f"Delivery takes {shelf.lead_time_days} days: order by {line.order_by}."),
        (line.packs is None, "No pack size on record: the number of packs cannot be said."),
        (bool(line.packs), f"{_packs(line.packs)} for this and {COVER_DAYS} days of expected use."),
    )
    return [sentence for holds, sentence in said if holds]


def _at_point(line: Reorder) -> str:
    free = _amount(line, max(0, line.usable - line.committed))
    return f"What is free ({free}) is at or below the reorder point ({_amount(line, line.reorder_point)})."


def _packs(packs: int | None) -> str:
    return "1 pack" if packs == 1 else f"{packs} packs"


def _amount(line: Reorder, base_units: int) -> str:
    return in_words(base_units, line.base_unit)
