"""The hypergeometric distribution in logarithms: how many of some marked units are among those drawn."""

import math
from collections.abc import Iterator


def log_none_drawn(total: int, marked: int, drawn: int) -> float:
    """Log of the chance that none of the marked is drawn, by the shorter product; -inf if one must be."""
    few, many = sorted((marked, drawn))
    if few + many > total:
        return -math.inf
    return math.fsum(math.log1p(-many / (total - index)) for index in range(few))


def log_probabilities(total: int, marked: int, drawn: int) -> Iterator[tuple[int, float]]:
    """How many marked ones may be among the drawn, each with the log of its chance.

    Marked and drawn may be exchanged. When there is no room for all of the fewer beside the more, those left
    out are counted instead, so that the row always begins with a chance that is one short product.
    """
    few, many = sorted((marked, drawn))
    crowded = few + many > total
    others = total - many if crowded else many
    log_probability = log_none_drawn(total, few, others)
    for common in range(min(few, others) + 1):
        yield (few - common if crowded else common), log_probability
        log_probability += _log_step(total, few, others, common)


def _log_step(total: int, marked: int, drawn: int, common: int) -> float:
    ways = (marked - common) * (drawn - common)
    back = (common + 1) * (total - marked - drawn + common + 1)
    return math.log(ways / back) if ways else -math.inf
