"""What a mixing sheet must know about a material, read from its document."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from service.science.measuring import Kind


@dataclass(frozen=True)
class Figures:
    """A material's figures; caps in mg/L of the substance, rounding limits as shares."""

    code: str
    name: str
    substance: str
    form: str
    base_unit: str
    nominal_g_per_l: float | None = None
    content_fraction: float | None = None
    density_g_per_ml: float | None = None
    copper_form: str | None = None
    warn_above_mg_per_l: float | None = None
    block_above_mg_per_l: float | None = None
    rounding_warn: float = 0.05
    rounding_block: float = 0.10
    element: tuple[str, float] | None = None
    wear: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()

    @property
    def kind(self) -> Kind:
        """What is measured of it."""
        return "volume" if self.form == "liquid" else "mass"

    @property
    def unit(self) -> str:
        """The unit it is measured in."""
        return "mL" if self.form == "liquid" else "g"

    @property
    def nominal_per_unit(self) -> float | None:
        """Milligrams in one mL or g as the material nominally has; None when bottles differ."""
        if self.form == "liquid":
            return self.nominal_g_per_l
        return None if self.content_fraction is None else 1000 * self.content_fraction

    def as_delivered(self, per_unit: float | None) -> "Figures":
        """The same with the strength of a delivery, mg in one mL or g, where none is nominal."""
        if per_unit is None or self.nominal_per_unit is not None:
            return self
        if self.form == "liquid":
            return replace(self, nominal_g_per_l=per_unit)
        return replace(self, content_fraction=per_unit / 1000)


def figures_of(
    code: str, *, name: str, substance: str, form: str, base_unit: str, document: Mapping[str, Any] | None
) -> Figures:
    """The figures of a material from its row; a material of the nursery's own may leave most of them out."""
    known = document or {}
    caps, rounding, safety = (known.get(part) or {} for part in ("caps", "rounding", "safety"))
    element = known.get("element")
    return Figures(
        code,
        name,
        substance,
        form,
        base_unit,
        nominal_g_per_l=known.get("nominal_g_per_l"),
        content_fraction=known.get("content_fraction"),
        density_g_per_ml=known.get("density_g_per_ml"),
        copper_form=known.get("copper_form"),
        warn_above_mg_per_l=caps.get("warn_above_mg_per_l"),
        block_above_mg_per_l=caps.get("block_above_mg_per_l"),
        rounding_warn=rounding.get("warn_above", 0.05),
        rounding_block=rounding.get("block_above", 0.10),
        element=(element["symbol"], element["fraction"]) if element else None,
        wear=tuple(safety.get("protective_wear", ())),
        cautions=tuple(safety.get("cautions", ())),
    )
