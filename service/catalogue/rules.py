"""Words of the catalogue: how plants take a method, how they are looked at."""

from enum import StrEnum


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


class LookClass(StrEnum):
    """How well an eye finds animals on it."""

    BROAD_LEAF = "broad_leaf"
    STEM_ROSETTE = "stem_rosette"
    MOSS_FINE = "moss_fine"
