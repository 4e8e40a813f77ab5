"""Hydrogen peroxide: the three ways its strength is said, none stronger than 12 %."""

from service.science.domain import positive, within
from service.science.strengths import from_percent_by_mass, from_percent_by_volume
from service.science.substances import SUBSTANCES, Figure

# Stronger stock burns skin at once and feeds fires: no sheet here mixes from it.
STRONGEST = Figure(12.0, "%", "Guard rail; 8 % and more is classified as an oxidiser", "assumption")
STRONGEST_VOLUMES = 40.0  # 12 % w/v by the trade's rounding
MOLE_L = 22.414  # litres of a mole of gas at 0 °C and one atmosphere, as volume strengths mean it


def from_percent_wv(percent: float) -> float:
    """g/L of grams in 100 mL: 3 % are 30 g/L; OutOfDomain above 12 %."""
    _not_too_strong(percent)
    return from_percent_by_volume(percent)


def from_percent_ww(percent: float, density_g_per_ml: float | None) -> float:
    """g/L of grams in 100 g; OutOfDomain above 12 % or without the density."""
    _not_too_strong(percent)
    return from_percent_by_mass(percent, density_g_per_ml)


def from_volumes(volumes: float) -> float:
    """g/L of a volume strength, the litres of oxygen that a litre gives off: 10 volumes are 30.35 g/L.

    2 H2O2 -> 2 H2O + O2. OutOfDomain above 40 volumes.
    """
    positive("volumes", volumes)
    within("volumes", volumes, 0, STRONGEST_VOLUMES)
    return 2 * SUBSTANCES["hydrogen_peroxide"].g_per_mol * volumes / MOLE_L


def _not_too_strong(percent: float) -> None:
    positive("percent", percent)
    within("percent", percent, 0, STRONGEST.value)
