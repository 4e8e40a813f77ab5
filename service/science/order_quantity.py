"""How much to order at once: the economic order quantity, capped by shelf life, in whole packs."""

import math
from dataclasses import dataclass

from service.science.demand import packs_needed
from service.science.domain import not_negative, positive

DAYS_PER_YEAR = 365


@dataclass(frozen=True)
class Costs:
    """Cost of an order and of keeping one unit for a year, in one currency; demand in units per year."""

    demand_per_year: float
    cost_per_order: float
    holding_cost_per_unit_year: float


@dataclass(frozen=True)
class OrderQuantity:
    """Whole packs to order, what is in them, and the quantity before rounding.

    `outlives_use`: the order cannot be used up in its usable life, because one pack or the present need is
    already more; what is left will expire.
    """

    packs: int
    quantity: float
    unrounded: float
    cost_per_year: float
    outlives_use: bool


def economic_order_quantity(costs: Costs) -> float:
    """sqrt(2 D S / H), the quantity of least cost (Harris 1913; Wilson 1934)."""
    positive("demand_per_year", costs.demand_per_year)
    positive("cost_per_order", costs.cost_per_order)
    positive("holding_cost_per_unit_year", costs.holding_cost_per_unit_year)
    return math.sqrt(2 * costs.demand_per_year * costs.cost_per_order / costs.holding_cost_per_unit_year)


def cost_per_year(costs: Costs, quantity: float) -> float:
    """Cost of ordering and of keeping, D S / Q + H Q / 2, in the currency of the costs."""
    positive("quantity", quantity)
    ordering = costs.demand_per_year * costs.cost_per_order / quantity
    return ordering + costs.holding_cost_per_unit_year * quantity / 2


def shelf_life_cap(demand_per_year: float, usable_days: float) -> float:
    """What is used within the usable life at receipt (expiry less receipt less margin); more is waste."""
    positive("demand_per_year", demand_per_year)
    positive("usable_days", usable_days)
    return demand_per_year * usable_days / DAYS_PER_YEAR


def order_quantity(costs: Costs, *, pack: float, usable_days: float, needed: float = 0.0) -> OrderQuantity:
    """Whole packs, at least one and never less than needed now, at the least cost that shelf life allows.

    Of the multiples of a pack below and above the quantity of least cost the cheaper one is taken, the
    smaller when they cost the same; the shelf life is held to by rounding down.
    """
    positive("pack", pack)
    not_negative("needed", needed)
    cap = shelf_life_cap(costs.demand_per_year, usable_days)
    wanted = min(economic_order_quantity(costs), cap)
    below = max(1, math.floor(wanted / pack))
    fits = math.floor(cap / pack + 1e-9)
    choice = min(
        (below, below + 1), key=lambda packs: (packs > max(1, fits), cost_per_year(costs, packs * pack))
    )
    packs = max(choice, packs_needed(needed, pack))
    return OrderQuantity(packs, packs * pack, wanted, cost_per_year(costs, packs * pack), packs > fits)
