"""What the strength on a label means: grams of the substance in a litre, or its mass fraction."""

from collections.abc import Mapping
from enum import StrEnum
from types import MappingProxyType

from service.science import chlorine

STRONGEST_G_PER_L = 2000  # denser than any liquid of the trade


class Basis(StrEnum):
    """How a label says a strength."""

    NAOCL_WW = "naocl_ww"
    NAOCL_WV = "naocl_wv"
    AVAIL_CL_WW = "avail_cl_ww"
    TRADE = "trade"
    G_PER_L = "g_per_l"
    PERCENT_WV = "percent_wv"
    MASS_FRACTION = "mass_fraction"


BLEACH: Mapping[Basis, chlorine.Basis] = MappingProxyType(
    {
        Basis.NAOCL_WW: "naocl_ww",
        Basis.NAOCL_WV: "naocl_wv",
        Basis.AVAIL_CL_WW: "avail_cl_ww",
        Basis.TRADE: "trade",
    }
)


def label_strength(value: float, basis: Basis) -> tuple[float | None, float | None]:
    """(g/L of the substance, mass fraction of the substance) of a labelled strength; one of them is None.

    Raises ValueError for a strength that cannot be.
    """
    if basis in BLEACH:
        return chlorine.available_chlorine_g_per_l(value, BLEACH[basis]), None
    if basis is Basis.MASS_FRACTION:
        if not 0 < value <= 1:
            raise ValueError("A mass fraction lies above 0 and is at most 1.")
        return None, value
    g_per_l = 10 * value if basis is Basis.PERCENT_WV else value
    if not 0 < g_per_l <= STRONGEST_G_PER_L:
        raise ValueError(f"A strength lies above 0 and is at most {STRONGEST_G_PER_L} g/L.")
    return g_per_l, None
