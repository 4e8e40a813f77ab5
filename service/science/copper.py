"""Copper: how much of it a tub may hold, by the form it comes in."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType

from service.science.domain import OutOfDomain


@dataclass(frozen=True)
class CopperCap:
    """Copper in mg/L above which to warn (None: no warning before the block), and above which to block."""

    warn_mg_per_l: float | None
    block_mg_per_l: float


# Assumptions, editable: 0.4 mg/L is the usual dose of ionic copper; chelates need more for the same effect.
CAPS: Mapping[str, CopperCap] = MappingProxyType(
    {
        "ionic": CopperCap(0.6, 1.0),
        "amine": CopperCap(None, 1.0),
        "chelate": CopperCap(None, 2.5),
    }
)


def copper_cap(form: str) -> CopperCap:
    """The caps of a form, `ionic`, `amine` or `chelate`; OutOfDomain when the form is not on record."""
    if form not in CAPS:
        raise OutOfDomain("form", f"The copper's form must be one of {', '.join(CAPS)}, not {form!r}.")
    return CAPS[form]
