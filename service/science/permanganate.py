"""Potassium permanganate: what dissolves, how strong a stock may be, what takes the colour away."""

from typing import Literal

from service.science.domain import not_negative, within
from service.science.substances import Figure, grams_per_gram
from service.science.tables import interpolated

Water = Literal["acid", "neutral"]

# g to 100 g of water by °C; a web table that an old data sheet and a dictionary (64 g/L at 20 °C) agree with.
SOLUBILITY = ((0.0, 2.8), (10.0, 4.1), (20.0, 6.4), (30.0, 8.3), (40.0, 11.2))
STRONGEST_STOCK = Figure(
    40.0, "g/L", "Another source gives 50 g/L at 20 °C; stays clear at 10 °C", "assumption"
)
PEROXIDE_MOL = {"acid": 2.5, "neutral": 1.5}
THIOSULFATE_MOL = 3 / 8
PEROXIDE_EXCESS = 1.25  # over the acid reaction; assumption


def solubility_g_per_100_g_water(celsius: float) -> float:
    """Grams that dissolve in 100 g of water at 0 to 40 °C; OutOfDomain outside."""
    return interpolated("celsius", celsius, SOLUBILITY)


def stock_g(stock_g_per_l: float, volume_l: float) -> float:
    """Grams to make up a stock; OutOfDomain above 40 g/L: it would not stay dissolved."""
    not_negative("volume_l", volume_l)
    within("stock_g_per_l", stock_g_per_l, 0, STRONGEST_STOCK.value)
    return stock_g_per_l * volume_l


def peroxide_mg(permanganate_mg: float, water: Water = "acid") -> float:
    """Hydrogen peroxide in mg that takes up permanganate: 2.5 mol per mol in acid, 1.5 in neutral water."""
    not_negative("permanganate_mg", permanganate_mg)
    return permanganate_mg * grams_per_gram(
        "hydrogen_peroxide", "potassium_permanganate", PEROXIDE_MOL[water]
    )


def peroxide_ml(permanganate_mg: float, peroxide_g_per_l: float = 30.0) -> float:
    """Millilitres of peroxide (3 % w/v unless said) to pour: by the acid reaction, a quarter more.

    0.67 mg for each mg of permanganate.
    """
    within("peroxide_g_per_l", peroxide_g_per_l, 1, 120)
    return peroxide_mg(permanganate_mg) * PEROXIDE_EXCESS / peroxide_g_per_l


def thiosulfate_mg(permanganate_mg: float) -> float:
    """Sodium thiosulfate pentahydrate in mg: 3 mol to 8 mol of permanganate."""
    not_negative("permanganate_mg", permanganate_mg)
    ratio = grams_per_gram("sodium_thiosulfate_pentahydrate", "potassium_permanganate", THIOSULFATE_MOL)
    return permanganate_mg * ratio
