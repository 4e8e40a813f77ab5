"""What a strength on a label means in g/L, and what it cannot mean without a density."""

from service.science.domain import OutOfDomain, not_negative, positive, within
from service.science.substances import element_share, substance


def from_percent_by_mass(percent: float, density_g_per_ml: float | None) -> float:
    """g/L of a strength in grams to 100 g of the liquid (w/w): 10 x per cent x density.

    OutOfDomain when the density is not known: a litre of a strong liquid is more than a kilogram.
    """
    within("percent", percent, 0, 100)
    return 10 * percent * _density(density_g_per_ml)


def to_percent_by_mass(g_per_l: float, density_g_per_ml: float | None) -> float:
    """Grams in 100 g of the liquid; OutOfDomain without its density, or for more than 100."""
    grams_of_a_litre = 1000 * _density(density_g_per_ml)
    within("g_per_l", g_per_l, 0, grams_of_a_litre)
    return 100 * g_per_l / grams_of_a_litre


def from_percent_by_volume(percent: float) -> float:
    """g/L of a strength in grams to 100 mL of the liquid (w/v; for chlorine the trade per cent)."""
    not_negative("percent", percent)
    return 10 * percent


def to_percent_by_volume(g_per_l: float) -> float:
    """Grams in 100 mL of the liquid."""
    not_negative("g_per_l", g_per_l)
    return g_per_l / 10


def mol_per_l(g_per_l: float, name: str) -> float:
    """Moles of a substance in a litre."""
    not_negative("g_per_l", g_per_l)
    return g_per_l / substance(name).g_per_mol


def element_g_per_l(salt_g_per_l: float, salt: str) -> float:
    """g/L of the element (copper, aluminium) in a solution of one of its salts."""
    not_negative("salt_g_per_l", salt_g_per_l)
    return salt_g_per_l * element_share(salt)


def salt_g_per_l(element_g_per_l: float, salt: str) -> float:
    """g/L of a salt that hold so much of its element."""
    not_negative("element_g_per_l", element_g_per_l)
    return element_g_per_l / element_share(salt)


def _density(density_g_per_ml: float | None) -> float:
    if density_g_per_ml is None:
        raise OutOfDomain(
            "density_g_per_ml",
            "density_g_per_ml is needed: per cent by mass says nothing of a litre without it.",
        )
    positive("density_g_per_ml", density_g_per_ml)
    return density_g_per_ml
