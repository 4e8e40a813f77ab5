"""The plants themselves: whether they may be traded where the house is, and whether they still die."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from service.catalogue.rules_places import applies, listing
from service.lots.rules import LossCause

DYING = frozenset({LossCause.TREATMENT_DAMAGE, LossCause.MELT, LossCause.OTHER})
"""Losses that speak of the health of what is left. Breakage, samples and what came in dead do not."""


@dataclass(frozen=True)
class Listed:
    """A plant, the official lists that name it, and where the house is, as far as it says so."""

    plant: str
    lists: Sequence[Mapping[str, Any]]
    country: str | None
    subdivision: str | None


@dataclass(frozen=True)
class Died:
    """Units of a lot, or of what it was split from, that were lost; `there` were there before."""

    at: datetime
    quantity: int
    there: int


@dataclass(frozen=True)
class Health:
    """What died, and the share of it that a policy allows; None when the policy says nothing of it."""

    died: Sequence[Died]
    lost_share_at_most: float | None
    within: timedelta


def binding(listed: Listed) -> list[str]:
    """The lists, in words, that bind where the house is; none while it does not say where."""
    if listed.country is None:
        return []
    return [
        listing(listed.plant, entry)
        for entry in listed.lists
        if applies(entry["jurisdiction"], listed.country, listed.subdivision)
    ]


def lost_share(health: Health, at: datetime) -> float:
    """The share of units lost in the days that count before a moment.

    One less the product-limit estimate of what survives (Kaplan and Meier 1958, J. Am. Stat. Assoc.
    53:457): units that left otherwise (sold, split off, samples) count as long as they were there.
    """
    surviving = 1.0
    for loss in health.died:
        if at - health.within < loss.at <= at:
            surviving *= 1 - loss.quantity / loss.there
    return 1 - surviving


def held_at(health: Health, most: float) -> datetime:
    """When the share of the days before is `most` or less if nothing more dies."""
    moments = sorted(loss.at + health.within for loss in health.died)
    return next(moment for moment in moments if lost_share(health, moment) <= most)
