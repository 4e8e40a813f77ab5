"""What a bottle still holds today, whether it may be used, and which one goes first."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from enum import StrEnum

from service.core.reasons import Reason
from service.science import chlorine
from service.science.chlorine import OutsideValidity
from service.stores.rules_shelf import ShelfLog, segments

UNKNOWN_AGE_DAYS, UNKNOWN_AGE_CELSIUS = 60, 25.0  # assumed before receipt when the day made is unknown
OF_TREATMENTS = frozenset({"treatment", "redose", "neutralise"})
USES = OF_TREATMENTS | {"test"}


class Way(StrEnum):
    """How stock leaves without being used."""

    HAZARDOUS_WASTE = "hazardous_waste"
    RETURNED = "returned"
    SEWER = "sewer"
    SPILLED = "spilled"


DISCHARGED = frozenset({Way.SEWER, Way.SPILLED})


@dataclass(frozen=True, kw_only=True)
class BatchFacts:
    """What is on record about a batch, with the figures of its material.

    Days are local days. `ageing` names the model of the material, None when it keeps its strength;
    `block_below_share` is the share of the strength below which it is not used.
    """

    batch_id: str
    material_code: str
    substance: str
    form: str
    base_unit: str
    balance: int
    received_on: date
    received_at: datetime
    made_on: date | None = None
    opened_on: date | None = None
    expires_on: date | None = None
    strength_g_per_l: float | None = None
    content_fraction: float | None = None
    measured_g_per_l: float | None = None
    measured_on: date | None = None
    copper_form: str | None = None
    drop_ml: float | None = None
    shelf_celsius: float = 20.0
    shelf_log: ShelfLog = field(default_factory=dict)
    blocked: bool = False
    block_reason: str | None = None
    ageing: str | None = None
    shelf_life_days: int
    opened_life_days: int
    block_below_share: float = 0.7


@dataclass(frozen=True)
class Strength:
    """A strength on a day: g/L or fraction of the substance, the share left since it was last known."""

    g_per_l: float | None
    content_fraction: float | None
    share: float
    aged: bool
    problem: str | None = None


@dataclass(frozen=True)
class BatchToday:
    """A batch on one day: balance in base units, strength of that day, whether it may be used.

    `expires_on` is the last day it may be used: the label's, or opened plus life once opened.
    """

    batch_id: str
    material_code: str
    substance: str
    form: str
    base_unit: str
    balance: int
    g_per_l: float | None
    content_fraction: float | None
    aged: bool
    expires_on: date | None
    copper_form: str | None
    drop_ml: float | None
    usable: bool
    why_not: tuple[str, ...]


def strength_today(facts: BatchFacts, on: date) -> Strength:
    """The strength of a batch on a day; a measured one overrides label and model.

    Ages hypochlorite from the day it was made (if unknown: 60 days at 25 °C before receipt, assumed) or
    from the day it was measured. `problem` says why there is no strength when the model does not reach.
    """
    start, stood = _history(facts, on)
    if start is None or facts.ageing is None or not stood:
        return Strength(start, facts.content_fraction, 1.0, aged=False)
    try:
        share = chlorine.hypochlorite_remaining(start, stood)
    except OutsideValidity as problem:
        return Strength(None, None, 0.0, aged=True, problem=str(problem))
    return Strength(start * share, None, share, aged=True)


def _history(facts: BatchFacts, on: date) -> tuple[float | None, list[tuple[float, float]]]:
    """The last strength known for certain, and the (days, celsius) since then."""
    measured_on = facts.measured_on
    if facts.measured_g_per_l is not None and measured_on is not None and measured_on <= on:
        return facts.measured_g_per_l, _stood(facts, measured_on, on) if on > measured_on else []
    if facts.made_on is not None:
        return facts.strength_g_per_l, _stood(facts, facts.made_on, on)
    before = (float(UNKNOWN_AGE_DAYS), UNKNOWN_AGE_CELSIUS)
    return facts.strength_g_per_l, [before, *_stood(facts, facts.received_on, on)]


def _stood(facts: BatchFacts, since: date, until: date) -> list[tuple[float, float]]:
    return segments(facts.shelf_log, since, until, facts.shelf_celsius)


def keeps_until(facts: BatchFacts) -> date:
    """The last day a batch may be used: the label's expiry or else its shelf life, and opened plus life."""
    closed = facts.expires_on or (facts.made_on or facts.received_on) + timedelta(days=facts.shelf_life_days)
    if facts.opened_on is None:
        return closed
    return min(closed, facts.opened_on + timedelta(days=facts.opened_life_days))


def why_not(facts: BatchFacts, strength: Strength, on: date) -> tuple[str, ...]:
    """Every reason against using a batch on a day, in words; empty when it may be used."""
    checks = (
        (facts.balance <= 0, "It is empty."),
        (facts.blocked, f"It is blocked: {facts.block_reason}"),
        (on < facts.received_on, f"It was not here before {facts.received_on.isoformat()}."),
        (_expired(facts, on), f"It expired on {(facts.expires_on or keeps_until(facts)).isoformat()}."),
        (_opened_too_long(facts, on), f"It was opened more than {facts.opened_life_days} days ago."),
        (strength.problem is not None, strength.problem or ""),
        (_too_weak(facts, strength), _weak_words(facts, strength)),
    )
    return tuple(words for against, words in checks if against)


def _expired(facts: BatchFacts, on: date) -> bool:
    closed = facts.expires_on or (facts.made_on or facts.received_on) + timedelta(days=facts.shelf_life_days)
    return on > closed


def _opened_too_long(facts: BatchFacts, on: date) -> bool:
    opened = facts.opened_on
    return opened is not None and on > opened + timedelta(days=facts.opened_life_days)


def _too_weak(facts: BatchFacts, strength: Strength) -> bool:
    return strength.problem is None and strength.share < facts.block_below_share


def _weak_words(facts: BatchFacts, strength: Strength) -> str:
    left, least = f"{strength.share:.0%}", f"{facts.block_below_share:.0%}"
    return f"Age has left {left} of its strength, less than {least}: test it, or discard it."


def batch_today(facts: BatchFacts, on: date) -> BatchToday:
    """A batch as it stands on a day."""
    strength = strength_today(facts, on)
    against = why_not(facts, strength, on)
    return BatchToday(
        batch_id=facts.batch_id,
        material_code=facts.material_code,
        substance=facts.substance,
        form=facts.form,
        base_unit=facts.base_unit,
        balance=facts.balance,
        g_per_l=strength.g_per_l,
        content_fraction=strength.content_fraction,
        aged=strength.aged,
        expires_on=keeps_until(facts),
        copper_form=facts.copper_form,
        drop_ml=facts.drop_ml,
        usable=not against,
        why_not=against,
    )


def first_to_expire(facts: BatchFacts) -> tuple[date, datetime, str]:
    """The place of a batch in the order of use: last day of use, then received, then id."""
    return keeps_until(facts), facts.received_at, facts.batch_id


def first_expired_first_out(
    batches: Sequence[BatchToday], needed: int, last_use: date | None = None
) -> list[tuple[BatchToday, int]]:
    """How much (base units) to take from which batch, given in the order of use.

    Only batches that are usable and keep until `last_use` (for a course that is re-dosed: its end). What
    cannot be met is left out; `shortage` gives it.
    """
    taken: list[tuple[BatchToday, int]] = []
    for batch in batches:
        if needed <= 0:
            break
        if not batch.usable or (last_use and batch.expires_on and batch.expires_on < last_use):
            continue
        amount = min(needed, batch.balance)
        taken.append((batch, amount))
        needed -= amount
    return taken


def shortage(allocated: Sequence[tuple[BatchToday, int]], needed: int) -> int:
    """What an allocation leaves unmet, in base units."""
    return max(0, needed - sum(amount for _, amount in allocated))


def active_mg(base_units: int, base_unit: str, strength: Strength) -> int | None:
    """Milligrams of the substance in an amount (uL or mg), signed like it; None when unknown."""
    if base_unit == "mg":
        fraction = strength.content_fraction
        return None if fraction is None else round(base_units * fraction)
    return None if strength.g_per_l is None else round(base_units * strength.g_per_l / 1000)


def reversal_reasons(reason: str, *, reversed_before: bool) -> list[Reason]:
    """Why a line of the ledger cannot be reversed."""
    if reason == "reversal":
        return [Reason("not-reversible", "A reversal is not reversed; enter what is right as a new line.")]
    if reversed_before:
        return [Reason("already-reversed", "This line has been reversed already.")]
    return []
