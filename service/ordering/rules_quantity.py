"""How many packs an order has, and what it costs."""

from dataclasses import dataclass
from math import ceil

from service.ordering.rules_demand import Expected
from service.science.demand import packs_needed
from service.science.order_quantity import DAYS_PER_YEAR, Costs, order_quantity

COVER_DAYS = 30  # assumed, while costs are not on record: an order covers a month of expected use
HOLDING_SHARE = 0.25  # assumed: a year on the shelf costs a quarter of the price


@dataclass(frozen=True, kw_only=True)
class Terms:
    """On what terms a material is delivered; amounts in base units, costs in hundredths of `currency`.

    `keeps_days` is how long a container keeps closed.
    """

    lead_time_days: int
    lead_time_deviation_days: float = 0.0
    service_level: float = 0.95
    pack: int | None = None
    least_order: int = 0
    pack_cost: int | None = None
    order_cost: int | None = None
    currency: str | None = None
    keeps_days: int | None = None


def packs_to_order(terms: Terms, expected: Expected, missing: int, *, due: bool) -> tuple[int | None, bool]:
    """Whole packs that make up for what is missing, and whether some will expire unused.

    The quantity of least cost where costs are on record, else a month of expected use; never less than the
    least order. None without a pack size.
    """
    if terms.pack is None:
        return None, False
    if not due:
        return 0, False
    least = max(1, ceil(terms.least_order / terms.pack))
    per_year = expected.demand.mean * DAYS_PER_YEAR
    if terms.pack_cost and terms.order_cost and terms.keeps_days and per_year:
        held = HOLDING_SHARE * terms.pack_cost / terms.pack
        costs = Costs(per_year, terms.order_cost, held)
        best = order_quantity(costs, pack=terms.pack, usable_days=terms.keeps_days, needed=max(0, missing))
        packs = max(least, best.packs)
    else:
        packs = max(least, packs_needed(missing + round(expected.demand.mean * COVER_DAYS), terms.pack))
    left_over = packs * terms.pack - max(0, missing)
    usable = per_year * terms.keeps_days / DAYS_PER_YEAR if terms.keeps_days and per_year else None
    return packs, usable is not None and left_over > usable


def order_cost(terms: Terms, packs: int | None) -> int | None:
    """What the order costs in hundredths; None while no price is on record."""
    if packs is None or terms.pack_cost is None:
        return None
    return packs * terms.pack_cost + (terms.order_cost or 0) if packs else 0
