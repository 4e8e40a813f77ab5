"""What is known of the substances: molar masses and figures, each with its source and how far to trust it."""

from collections.abc import Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Literal

from service.science.domain import OutOfDomain, not_negative, positive

VERSION = "2026-1"

Grade = Literal["standard", "published", "computed", "memory", "practice", "assumption"]


@dataclass(frozen=True)
class Figure:
    """A number with its unit, its source and how good that is; `memory` still has to be looked up."""

    value: float
    unit: str
    source: str
    grade: Grade


@dataclass(frozen=True)
class Substance:
    """A formula and its molar mass; `element` with `atoms` of it is what a dose of a salt counts."""

    formula: str
    g_per_mol: float
    element: str | None = None
    atoms: int = 0


# IUPAC abridged standard atomic weights, summed; reference libraries agree within 1 in 5000.
ATOMIC_G_PER_MOL: Mapping[str, float] = MappingProxyType({"Al": 26.982, "Cu": 63.546, "N": 14.007})
SUBSTANCES: Mapping[str, Substance] = MappingProxyType(
    {
        "chlorine": Substance("Cl2", 70.906),
        "sodium_hypochlorite": Substance("NaOCl", 74.442),
        "hypochlorous_acid": Substance("HOCl", 52.460),
        "chlorate": Substance("ClO3", 83.449),
        "sodium_thiosulfate": Substance("Na2S2O3", 158.108),
        "sodium_thiosulfate_pentahydrate": Substance("Na2S2O3(H2O)5", 248.184),
        "sodium_bisulfite": Substance("NaHSO3", 104.061),
        "sodium_metabisulfite": Substance("Na2S2O5", 190.107),
        "sodium_sulfite": Substance("Na2SO3", 126.043),
        "ascorbic_acid": Substance("C6H8O6", 176.124),
        "sodium_ascorbate": Substance("NaC6H7O6", 198.106),
        "sulfur_dioxide": Substance("SO2", 64.064),
        "potassium_alum": Substance("KAl(SO4)2(H2O)12", 474.388, "Al", 1),
        "ammonium_alum": Substance("NH4Al(SO4)2(H2O)12", 453.328, "Al", 1),
        "burnt_potassium_alum": Substance("KAl(SO4)2", 258.205, "Al", 1),
        "aluminium_sulfate_18": Substance("Al2(SO4)3(H2O)18", 666.426, "Al", 2),
        "aluminium_sulfate_14": Substance("Al2(SO4)3(H2O)14", 594.364, "Al", 2),
        "copper_sulfate_pentahydrate": Substance("CuSO4(H2O)5", 249.685, "Cu", 1),
        "copper_sulfate": Substance("CuSO4", 159.608, "Cu", 1),
        "copper_chloride_dihydrate": Substance("CuCl2(H2O)2", 170.483, "Cu", 1),
        "potassium_permanganate": Substance("KMnO4", 158.034),
        "hydrogen_peroxide": Substance("H2O2", 34.0147),
        "sodium_chloride": Substance("NaCl", 58.443),
        "sodium_bicarbonate": Substance("NaHCO3", 84.007),
        "calcium_carbonate": Substance("CaCO3", 100.087),
        "carbon_dioxide": Substance("CO2", 44.010),
    }
)


def substance(name: str) -> Substance:
    """The substance of a name on the list; OutOfDomain for any other."""
    if name not in SUBSTANCES:
        raise OutOfDomain("substance", f"substance must be one of {', '.join(SUBSTANCES)}, not {name!r}.")
    return SUBSTANCES[name]


def element_share(name: str) -> float:
    """The mass fraction of the element that a dose of this salt counts; OutOfDomain when it has none."""
    salt = substance(name)
    if salt.element is None:
        raise OutOfDomain("substance", f"A dose of {name} is counted as it is, not by an element.")
    return salt.atoms * ATOMIC_G_PER_MOL[salt.element] / salt.g_per_mol


def grams_per_gram(of: str, per: str, mol_per_mol: float = 1.0) -> float:
    """Grams of one substance that react with a gram of another, by moles of the first per mole of it."""
    positive("mol_per_mol", mol_per_mol)
    return mol_per_mol * substance(of).g_per_mol / substance(per).g_per_mol


def equivalent_g(grams: float, given: str, wanted: str) -> float:
    """Grams of another salt or hydrate with the same mass of the element they share.

    OutOfDomain when they do not share it: copper is no aluminium.
    """
    elements = substance(given).element, substance(wanted).element
    if elements[0] != elements[1]:
        raise OutOfDomain("wanted", f"{wanted} does not hold what counts in {given}.")
    not_negative("grams", grams)
    return grams * element_share(given) / element_share(wanted)
