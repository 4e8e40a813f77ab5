"""Alum: which salt it is, what dissolves, what it does to the water's alkalinity, and how spoons mislead."""

from dataclasses import dataclass

from service.science.domain import OutOfDomain, not_negative, positive
from service.science.substances import (
    ATOMIC_G_PER_MOL,
    SUBSTANCES,
    Figure,
    element_share,
    grams_per_gram,
    substance,
)
from service.science.tables import interpolated

FORMS = (
    "potassium_alum",
    "ammonium_alum",
    "aluminium_sulfate_18",
    "aluminium_sulfate_14",
    "burnt_potassium_alum",
)
POWDER = Figure(0.90, "g/mL", "Powder is 0.80 to 1.05; weigh ten level spoons", "assumption")
SPOON_ERROR = 0.15
US_TABLESPOON_ML = 14.78676478125
NEAR_SOLUBILITY = 0.8
# Anhydrous KAl(SO4)2 in g to 100 g of water by °C; a handbook's table from memory.
SOLUBILITY = ((0.0, 3.0), (10.0, 3.99), (20.0, 5.9), (30.0, 8.39), (40.0, 11.7), (60.0, 24.8))
ANHYDROUS_SHARE = SUBSTANCES["burnt_potassium_alum"].g_per_mol / SUBSTANCES["potassium_alum"].g_per_mol
BICARBONATE_MOL = 3  # to a mole of aluminium


@dataclass(frozen=True)
class Spoons:
    """US tablespoons: the estimate, and where it lies by how the powder packs."""

    estimate: float
    low: float
    high: float


def aluminium_mg_per_l(alum_g_per_l: float, form: str = "potassium_alum") -> float:
    """Aluminium in mg/L of a dose of alum in one of `FORMS`; OutOfDomain for any other."""
    not_negative("alum_g_per_l", alum_g_per_l)
    return 1000 * alum_g_per_l * element_share(_known(form))


def alkalinity_used_mg_per_l(alum_g_per_l: float, form: str = "potassium_alum") -> float:
    """Alkalinity in mg/L as CaCO3 that alum uses up: 1.5 mol of CaCO3 to a mole of aluminium."""
    not_negative("alum_g_per_l", alum_g_per_l)
    atoms = substance(_known(form)).atoms
    return 1000 * alum_g_per_l * grams_per_gram("calcium_carbonate", form, BICARBONATE_MOL / 2 * atoms)


def bicarbonate_g(alum_g: float, form: str = "potassium_alum") -> float:
    """Grams of sodium bicarbonate that neutralise spent alum: 3 mol to a mole of aluminium. It foams."""
    not_negative("alum_g", alum_g)
    atoms = substance(_known(form)).atoms
    return alum_g * grams_per_gram("sodium_bicarbonate", form, BICARBONATE_MOL * atoms)


def nitrogen_mg_per_l(alum_g_per_l: float, form: str) -> float:
    """Nitrogen in mg/L that ammonium alum brings, 0 for the others. With bleach it makes chloramines."""
    not_negative("alum_g_per_l", alum_g_per_l)
    if _known(form) != "ammonium_alum":
        return 0.0
    return 1000 * alum_g_per_l * ATOMIC_G_PER_MOL["N"] / substance(form).g_per_mol


def solubility_g_per_100_g_water(celsius: float) -> float:
    """Grams of potassium alum dodecahydrate that dissolve in 100 g of added water, at 0 to 60 °C.

    From the table of the anhydrous salt; the crystals bring water of their own. OutOfDomain outside.
    """
    anhydrous = interpolated("celsius", celsius, SOLUBILITY)
    return anhydrous / (ANHYDROUS_SHARE - (1 - ANHYDROUS_SHARE) * anhydrous / 100)


def near_solubility(alum_g_per_l_of_water: float, celsius: float) -> bool:
    """Whether a dose is above 0.8 of what dissolves in the water at its temperature."""
    not_negative("alum_g_per_l_of_water", alum_g_per_l_of_water)
    return alum_g_per_l_of_water / 10 > NEAR_SOLUBILITY * solubility_g_per_100_g_water(celsius)


def spoons(alum_g: float, powder_g_per_ml: float = POWDER.value) -> Spoons:
    """US tablespoons of powder for a mass, ±15 %: weigh it if there is a balance."""
    not_negative("alum_g", alum_g)
    positive("powder_g_per_ml", powder_g_per_ml)
    estimate = alum_g / powder_g_per_ml / US_TABLESPOON_ML
    return Spoons(estimate, estimate * (1 - SPOON_ERROR), estimate * (1 + SPOON_ERROR))


def spooned_g(tablespoons: float, powder_g_per_ml: float = POWDER.value) -> float:
    """Grams in level US tablespoons of powder; the way back from `spoons`."""
    not_negative("tablespoons", tablespoons)
    positive("powder_g_per_ml", powder_g_per_ml)
    return tablespoons * US_TABLESPOON_ML * powder_g_per_ml


def _known(form: str) -> str:
    if form not in FORMS:
        raise OutOfDomain("form", f"form must be one of {', '.join(FORMS)}, not {form!r}.")
    return form
