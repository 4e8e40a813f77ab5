"""Until when a batch is both in date and strong enough."""

from collections.abc import Callable
from datetime import date, timedelta

from service.science.searching import first_that_holds
from service.stores.rules import BatchFacts, keeps_until, strength_today

AHEAD_DAYS = 180


def strong_enough(facts: BatchFacts, on: date) -> bool:
    """Whether age leaves a batch strong enough on a day; unknown beyond what the model covers, so no."""
    strength = strength_today(facts, on)
    return strength.problem is None and strength.share >= facts.block_below_share


def usable_until(facts: BatchFacts, on: date) -> date:
    """The last day a batch may be used as far as is known on a day; before `on` when it may not any more.

    The label's last day, or the last on which it is strong enough, whichever comes first. Strength is looked
    at for 180 days ahead; it only ever falls.
    """
    last = min(keeps_until(facts), on + timedelta(days=AHEAD_DAYS))
    if last < on or strong_enough(facts, last):
        return keeps_until(facts)
    weak_after = first_that_holds(_weak_on(facts, on), low=-1, high=(last - on).days)
    return on + timedelta(days=weak_after - 1)


def _weak_on(facts: BatchFacts, since: date) -> Callable[[int], bool]:
    return lambda days: not strong_enough(facts, since + timedelta(days=days))
