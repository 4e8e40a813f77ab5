"""What became of ordinary lots: finds after treatment, days to release, losses, cost; each with its n."""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from enum import StrEnum

from service.science.averages import median_interval, ratio_of_sums
from service.science.evidence import design_effect, dispersion
from service.science.outcomes import share_may_be_shown
from service.science.proportions import Interval, wilson_interval


class OutcomesBy(StrEnum):
    """What outcomes are shown by."""

    PROTOCOL = "protocol"
    PLANT = "plant"
    SUPPLIER = "supplier"
    PEST = "pest"
    MONTH = "month"


@dataclass(frozen=True)
class Lived:
    """One lot: where from, what was done, found and lost, and when it was first cleared.

    `protocols` are "code/version" of its finished treatments, `pests` what was ever found alive in it,
    `live_after` what of it after the last treatment (None: no look since). Units lost by cause; `cost_micro`
    is its share of what its treatments drew, None where a part is unknown.
    """

    lot_id: str
    plant: str
    supplier: str
    month: str
    protocols: tuple[str, ...]
    pests: frozenset[str]
    live_after: frozenset[str] | None
    infested_on_arrival: bool | None
    days_to_release: float | None
    units: int
    lost: Mapping[str, int]
    cost_micro: int | None
    currency: str | None


@dataclass(frozen=True)
class Share:
    """So many of so many; the share with its limits only from ten on (below, counts say enough)."""

    count: int
    of: int
    share: Interval | None


@dataclass(frozen=True)
class Outcome:
    """One row of the report."""

    key: str
    lots: int
    live_after: Share
    not_looked_at: int
    infested_on_arrival: Share
    released: int
    days_to_release: Interval | None
    median_days: float | None
    units: int
    lost: Mapping[str, int]
    lost_share: Interval | None
    cost_per_cleared_unit: float | None
    cost_limits: Interval | None
    currency: str | None


KEYS: Mapping[OutcomesBy, Callable[[Lived], Iterable[str]]] = {
    OutcomesBy.PROTOCOL: lambda lot: dict.fromkeys(lot.protocols),
    OutcomesBy.PLANT: lambda lot: (lot.plant,),
    OutcomesBy.SUPPLIER: lambda lot: (lot.supplier,),
    OutcomesBy.PEST: lambda lot: sorted(lot.pests),
    OutcomesBy.MONTH: lambda lot: (lot.month,),
}


def outcomes(lots: Sequence[Lived], by: OutcomesBy) -> list[Outcome]:
    """The rows, by their key; by pest a find after treatment is one of that pest."""
    groups: dict[str, list[Lived]] = {}
    for lot in lots:
        for key in KEYS[by](lot):
            groups.setdefault(key, []).append(lot)
    return [_outcome(key, groups[key], key if by is OutcomesBy.PEST else None) for key in sorted(groups)]


def _outcome(key: str, lots: Sequence[Lived], pest: str | None) -> Outcome:
    looked_at = [lot.live_after for lot in lots if lot.protocols and lot.live_after is not None]
    live = sum(bool(found) if pest is None else pest in found for found in looked_at)
    arrived = [lot.infested_on_arrival for lot in lots if lot.infested_on_arrival is not None]
    days = [lot.days_to_release for lot in lots if lot.days_to_release is not None]
    middle, limits = median_interval(days) if days else (None, None)
    lost: Counter[str] = Counter()
    for lot in lots:
        lost.update(lot.lost)
    cost, cost_limits, currency = _cost(lots)
    return Outcome(
        key=key,
        lots=len(lots),
        live_after=share(live, len(looked_at)),
        not_looked_at=sum(bool(lot.protocols) and lot.live_after is None for lot in lots),
        infested_on_arrival=share(sum(arrived), len(arrived)),
        released=len(days),
        days_to_release=limits,
        median_days=middle,
        units=sum(lot.units for lot in lots),
        lost=dict(sorted(lost.items())),
        lost_share=_lost_share(lots),
        cost_per_cleared_unit=cost,
        cost_limits=cost_limits,
        currency=currency,
    )


def share(count: int, of: int) -> Share:
    """So many of so many, with Wilson's limits from ten on."""
    return Share(count, of, wilson_interval(count, of) if share_may_be_shown(of) else None)


def _lost_share(lots: Sequence[Lived]) -> Interval | None:
    """The share of units lost; units of one lot fare alike, so each counts for less."""
    parts = [(min(sum(lot.lost.values()), lot.units), lot.units) for lot in lots if lot.units]
    if not share_may_be_shown(len(parts)):
        return None
    units = sum(of for _, of in parts)
    effect = min(design_effect(dispersion([parts])), units)
    return wilson_interval(sum(gone for gone, _ in parts) / effect, units / effect)


def _cost(lots: Sequence[Lived]) -> tuple[float | None, Interval | None, str | None]:
    """Cost per cleared unit: all that was spent on these lots over the units of those that were cleared."""
    spent = [lot for lot in lots if lot.protocols]
    currencies = {lot.currency for lot in spent if lot.currency is not None}
    if any(lot.cost_micro is None for lot in spent) or len(currencies) != 1:
        return None, None, None
    parts = [((lot.cost_micro or 0) / 1e6, _cleared(lot)) for lot in spent]
    if not sum(units for _, units in parts):
        return None, None, None
    value, limits = ratio_of_sums(parts)
    return value, limits, currencies.pop()


def _cleared(lot: Lived) -> int:
    return 0 if lot.days_to_release is None else max(0, lot.units - sum(lot.lost.values()))


def month_of(day: date) -> str:
    """A month as the report names it."""
    return f"{day:%Y-%m}"
