"""The reasons of a reorder line, in words."""

from service.ordering.rules import Reorder, Shelf
from service.ordering.rules_quantity import COVER_DAYS
from service.stores.queries import in_words


def reasons(shelf: Shelf, line: Reorder) -> list[str]:
    """Why this is the day and the amount, for the person who orders."""
    said = (
        (not line.usable, "Nothing usable is left."),
        (line.committed > 0, f"Treatments under way still need {_amount(line, line.committed)}."),
        (line.committed > line.usable, f"That is more than the {_amount(line, line.usable)} that are there."),
        (not line.enough_history, "Fewer than two days of use on record: what comes cannot be foreseen."),
        (line.intermittent, "It is used now and then: whole uses are counted, not days."),
        (line.low and line.enough_history, _at_point(line)),
        (line.runs_out_on is not None, f"It runs out on {line.runs_out_on}."),
        (line.order_by is not None, _delivery(shelf, line)),
        (line.packs is None, "No pack size on record: the number of packs cannot be said."),
        (bool(line.packs), _cover(shelf, line)),
        (line.will_expire, "Not all of that will be used before it expires: ask for a smaller pack."),
    )
    return [sentence for holds, sentence in said if holds]


def _at_point(line: Reorder) -> str:
    free = _amount(line, max(0, line.usable - line.committed))
    return f"What is free ({free}) is at or below the reorder point ({_amount(line, line.reorder_point)})."


def _delivery(shelf: Shelf, line: Reorder) -> str:
    spread = shelf.terms.lead_time_deviation_days
    days = f"{shelf.terms.lead_time_days} days" + (f", give or take {spread:g}" if spread else "")
    return f"Delivery takes {days}: order by {line.order_by}."


def _cover(shelf: Shelf, line: Reorder) -> str:
    packs = _packs(line.packs)
    if line.packs and shelf.terms.pack and (line.packs - 1) * shelf.terms.pack < shelf.terms.least_order:
        return f"{packs}: the least that is delivered."
    if shelf.terms.pack_cost and shelf.terms.order_cost:
        return f"{packs} cost least over a year, delivery and shelf counted."
    return f"{packs} for this and {COVER_DAYS} days of expected use."


def _packs(packs: int | None) -> str:
    return "1 pack" if packs == 1 else f"{packs} packs"


def _amount(line: Reorder, base_units: int) -> str:
    return in_words(base_units, line.base_unit)
