"""When to order a material and how much: known needs are projected, unknown ones get a reorder point."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from service.ordering.rules_ahead import DayAhead, DoseAhead, days_ahead
from service.ordering.rules_demand import Expected, enough_history, expected_use, lowest_before_order
from service.ordering.rules_quantity import COVER_DAYS, Terms, order_cost, packs_to_order
from service.science.demand import first_day_below

HORIZON_DAYS = 180


@dataclass(frozen=True, kw_only=True)
class Shelf:
    """What is there of a material and how it is used, in base units.

    `batches` are the usable ones as (last day of use, balance); `doses` what treatments under way will still
    draw; `used` what was used on each day of the history, days without use as 0.
    """

    material_code: str
    base_unit: str
    terms: Terms
    batches: Sequence[tuple[date, int]]
    doses: Sequence[DoseAhead]
    used: Sequence[int]

    @property
    def needs(self) -> Mapping[date, int]:
        """What treatments will draw, by day."""
        found: dict[date, int] = {}
        for dose in self.doses:
            found[dose.day] = found.get(dose.day, 0) + dose.base_units
        return found


@dataclass(frozen=True, kw_only=True)
class Reorder:
    """What to order by when; amounts in base units. `low`: what is free is at or below the reorder point.

    `quantity` and `cost` are None while no pack, or no cost of it, is on record; `will_expire`: not all of
    the order can be used in time.
    """

    material_code: str
    base_unit: str
    usable: int
    committed: int
    expected: int
    enough_history: bool
    intermittent: bool
    reorder_point: int
    runs_out_on: date | None
    order_by: date | None
    packs: int | None
    quantity: int | None
    cost: int | None
    will_expire: bool
    low: bool


def reorder(shelf: Shelf, today: date) -> Reorder:
    """When to order and how much; position = usable - committed, held against the reorder point."""
    known, terms = enough_history(shelf.used), shelf.terms
    expected = expected_use(shelf.used)
    until_delivery = expected.demand.mean * terms.lead_time_days
    point = lowest_before_order(
        expected, terms.lead_time_days, terms.lead_time_deviation_days, terms.service_level
    )
    usable, committed = sum(amount for _, amount in shelf.batches), sum(shelf.needs.values())
    days = ahead(shelf, today, HORIZON_DAYS, expected)
    balances = [day.balance for day in days]
    runs_short_on = first_day_below(balances, today, max(0.0, point - until_delivery))
    low = usable - committed <= round(point)
    order_by = _order_by(today, terms.lead_time_days, runs_short_on, low=low and bool(committed or known))
    # An order is for the time until delivery and the month after; what expires in it unused is not there.
    lost = sum(day.expires for day in days[: terms.lead_time_days + COVER_DAYS + 1])
    missing = round(point + lost) - (usable - committed)
    packs, will_expire = packs_to_order(terms, expected, missing, due=low or order_by == today)
    return Reorder(
        material_code=shelf.material_code,
        base_unit=shelf.base_unit,
        usable=usable,
        committed=committed,
        expected=round(until_delivery),
        enough_history=known,
        intermittent=expected.use_size is not None,
        reorder_point=round(point),
        runs_out_on=first_day_below(balances, today, 0),
        order_by=order_by,
        packs=packs,
        quantity=None if packs is None or terms.pack is None else packs * terms.pack,
        cost=order_cost(terms, packs),
        will_expire=will_expire,
        low=low,
    )


def ahead(shelf: Shelf, today: date, horizon_days: int, expected: Expected | None = None) -> list[DayAhead]:
    """The stock of a shelf day by day, if nothing is ordered."""
    mean = (expected or expected_use(shelf.used)).demand.mean
    return days_ahead(shelf.batches, shelf.needs, mean, today, horizon_days)


def _order_by(today: date, lead_time_days: int, runs_short_on: date | None, *, low: bool) -> date | None:
    if low:
        return today
    return None if runs_short_on is None else max(today, runs_short_on - timedelta(days=lead_time_days))
