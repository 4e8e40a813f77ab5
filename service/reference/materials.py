"""Dip materials and neutralisers: strength, keeping, hazards, protective wear, disposal."""

from dataclasses import dataclass
from typing import Literal

from service.reference.words import CountingNumber, Positive, Share, Sourced, Substance

StrengthBasis = Literal[
    "naocl_ww", "naocl_wv", "avail_cl_ww", "trade", "g_per_l", "percent_wv", "mass_fraction"
]


@dataclass(frozen=True, kw_only=True)
class Element(Sourced):
    """The metal in a material: its mass as a share of the product."""

    symbol: str
    fraction: Share


@dataclass(frozen=True, kw_only=True)
class Keeping(Sourced):
    """Days that a container keeps closed and opened, from the day it was made and opened."""

    shelf_life_days: CountingNumber
    opened_life_days: CountingNumber


@dataclass(frozen=True, kw_only=True)
class Potency(Sourced):
    """Share of the strength at filling below which a mix is warned of, and below which it is refused."""

    warn_below_share: Share
    block_below_share: Share


@dataclass(frozen=True, kw_only=True)
class Caps(Sourced):
    """Doses in mg/L of the substance above which a sheet warns, and is refused."""

    warn_above_mg_per_l: Positive | None = None
    block_above_mg_per_l: Positive


@dataclass(frozen=True, kw_only=True)
class Rounding(Sourced):
    """Relative rounding error of a measured amount above which a sheet warns, and is refused."""

    warn_above: Share
    block_above: Share


@dataclass(frozen=True, kw_only=True)
class Hazard:
    """A hazard code of the globally harmonised system with a statement in our words.

    `applies` says to which form or strength, when not to the material as described.
    """

    code: str
    statement: str
    applies: str | None = None


@dataclass(frozen=True, kw_only=True)
class Safety(Sourced):
    """Hazards and what to do about them; the supplier's label and safety data sheet come first."""

    signal_word: Literal["danger", "warning"] | None = None
    pictograms: tuple[str, ...] = ()
    hazards: tuple[Hazard, ...] = ()
    precautions: tuple[str, ...] = ()
    protective_wear: tuple[str, ...]
    disposal: str
    cautions: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Material(Sourced):
    """One material; the source and grade are those of its chemistry.

    A liquid holds `nominal_g_per_l` of the substance (None: every bottle says its own strength, on one of
    `strength_basis`); a solid is `content_fraction` substance. `density_g_per_ml` is that of the liquid or,
    for spoons, of the loose solid. `base_unit` is that of the stock ledger.
    """

    code: str
    name: str
    substance: Substance
    form: Literal["liquid", "solid"]
    base_unit: Literal["uL", "mg"]
    strength_basis: tuple[StrengthBasis, ...]
    nominal_g_per_l: Positive | None = None
    label_strengths_percent: tuple[Positive, ...] = ()
    content_fraction: Share | None = None
    density_g_per_ml: Positive | None = None
    element: Element | None = None
    copper_form: Literal["ionic", "amine", "chelate"] | None = None
    neutraliser_agent: str | None = None
    ageing: Literal["hypochlorite_second_order"] | None = None
    keeping: Keeping
    potency: Potency | None = None
    caps: Caps | None = None
    rounding: Rounding
    safety: Safety
    never_with: tuple[Substance, ...] = ()
