"""Concentration and time of a dip: a number to compare dips by, no prediction of a kill."""

import math
from typing import Literal

from service.science.domain import not_negative, positive, within

STRONGER = 1.25  # times the proven product; assumption
FARTHEST = 2.0  # times the proven concentration or time, up or down; assumption


def contact_product(mg_per_l: float, minutes: float) -> float:
    """Concentration times time in mg·min/L (Chick-Watson with exponent 1)."""
    not_negative("mg_per_l", mg_per_l)
    not_negative("minutes", minutes)
    return mg_per_l * minutes


def decaying_contact_product(mg_per_l: float, rate_per_minute: float, minutes: float) -> float:
    """The product when the concentration falls by first order: C0 (1 - exp(-k t)) / k, in mg·min/L."""
    not_negative("rate_per_minute", rate_per_minute)
    at_full = contact_product(mg_per_l, minutes)
    lost = rate_per_minute * minutes
    return at_full if lost == 0 else at_full * (-math.expm1(-lost) / lost)


def minutes_for(product_mg_min_per_l: float, mg_per_l: float) -> float:
    """Minutes at a concentration that give a product."""
    not_negative("product_mg_min_per_l", product_mg_min_per_l)
    positive("mg_per_l", mg_per_l)
    return product_mg_min_per_l / mg_per_l


def comparable(
    mg_per_l: float, minutes: float, *, proven_mg_per_l: float, proven_minutes: float
) -> Literal["ok", "warn"]:
    """Whether a planned dip is like a proven one: `warn` above 1.25 times its product.

    OutOfDomain when time or concentration is more than twice or less than half of the proven one: that far
    the product says nothing.
    """
    positive("proven_mg_per_l", proven_mg_per_l)
    positive("proven_minutes", proven_minutes)
    within("mg_per_l", mg_per_l, proven_mg_per_l / FARTHEST, proven_mg_per_l * FARTHEST)
    within("minutes", minutes, proven_minutes / FARTHEST, proven_minutes * FARTHEST)
    proven = contact_product(proven_mg_per_l, proven_minutes)
    return "warn" if contact_product(mg_per_l, minutes) > STRONGER * proven else "ok"
