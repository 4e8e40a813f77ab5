"""Parts of a lot (layers, bags, kinds that grew together): how many of each, and its part of a look."""

from collections.abc import Mapping, Sequence
from typing import Any

from service.science.unit_draw import proportional_strata

Strata = Sequence[Mapping[str, Any]]  # name, quantity (None: not counted), plant_id (None: the lot's)


def kinds(plant_id: str, strata: Strata) -> list[str]:
    """The ids of the plants in a lot, each once: its parts' own, or the lot's where there is none."""
    return list(dict.fromkeys(part["plant_id"] or plant_id for part in strata)) or [plant_id]


def are_counted(strata: Strata) -> bool:
    """Whether it is known how many of each part there are."""
    return all(part["quantity"] is not None for part in strata)


def shares(strata: Strata, sample_size: int, units_each: int = 1) -> dict[str, int]:
    """How many of each part a look of `sample_size` takes in, rounded up; none where nobody counted them.

    `units_each`: what is looked at for one that was counted (the stems of an untied bunch).
    """
    if not strata or not are_counted(strata):
        return {}
    sizes = [part["quantity"] * units_each for part in strata]
    found = proportional_strata(sizes, min(sample_size, sum(sizes)))
    return {part["name"]: share for part, share in zip(strata, found, strict=True)}


def is_spread(looked_at: Mapping[str, int], strata: Strata, sample_size: int, units_each: int = 1) -> bool:
    """Whether a look at a part of the lot took in enough of each part; never where nobody counted them.

    In a lot without parts every look is.
    """
    if not strata:
        return True
    wanted = shares(strata, sample_size, units_each)
    return bool(wanted) and all(looked_at.get(name, 0) >= units for name, units in wanted.items())


def after_repacking(strata: Strata) -> list[dict[str, Any]]:
    """What is left of the parts once the units are others: which kinds there are, not how many of each."""
    own = any(part["plant_id"] is not None for part in strata)
    return [{**part, "quantity": None} for part in strata] if own else []
