"""Words of the catalogue: how plants take a method, how they are looked at, how a pest's eggs develop."""

from collections.abc import Mapping, Sequence
from enum import StrEnum
from typing import Any

from service.science.development import Development


class Method(StrEnum):
    """Treatment methods."""

    BLEACH_DIP = "bleach_dip"
    ALUM_SOAK = "alum_soak"
    COPPER_COURSE = "copper_course"
    PERMANGANATE_DIP = "permanganate_dip"
    PEROXIDE_DIP = "peroxide_dip"
    SALT_DIP = "salt_dip"
    CARBONATED_WATER = "carbonated_water"
    QUARANTINE_ONLY = "quarantine_only"


class Level(StrEnum):
    """How a plant takes a method."""

    TOLERATES = "tolerates"
    CAUTION = "caution"
    AVOID = "avoid"
    UNKNOWN = "unknown"


WORSE = (Level.TOLERATES, Level.CAUTION, Level.UNKNOWN, Level.AVOID)


class LookClass(StrEnum):
    """How well an eye finds animals on it."""

    BROAD_LEAF = "broad_leaf"
    STEM_ROSETTE = "stem_rosette"
    MOSS_FINE = "moss_fine"


def worst(levels: Sequence[Level]) -> Level:
    """How several kinds together take a method: as the one that takes it worst."""
    return max(levels, key=WORSE.index)


def development(code: str, figures: Mapping[str, Any]) -> Development:
    """The development from laying to hatching as the calculation takes it."""
    spread, limits = figures["threshold_range"], figures["limits"]
    return Development(
        code=code,
        lower_threshold_c=figures["lower_threshold_c"],
        thermal_constant_dd=figures["thermal_constant_dd"],
        anchor_days=figures["anchor_days"],
        anchor_c=figures["anchor_c"],
        lower_threshold_range=(spread["low_c"], spread["high_c"]),
        optimum_c=limits["optimum_c"],
        maximum_c=limits["maximum_c"],
    )
