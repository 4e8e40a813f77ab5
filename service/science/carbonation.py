"""Salt and carbonated water: grams and spoons of the one, dissolved and released gas of the other."""

from service.science.domain import not_negative, positive
from service.science.gases import gas_l, room_ppm
from service.science.substances import SUBSTANCES, Figure

SPOON_OF_SALT = Figure(18.0, "g", "Food tables, a level US tablespoon of table salt, recalled", "memory")
MOLE_L = 22.414  # litres of a mole of gas at 0 °C and one atmosphere, as volumes of carbonation mean it
LEFT_OPEN = Figure(1.69, "g/L", "Water in equilibrium with carbon dioxide at 1 atm and 20 °C", "published")


def salt_tablespoons(salt_g: float) -> float:
    """Level US tablespoons of table salt; weigh it if there is a balance."""
    not_negative("salt_g", salt_g)
    return salt_g / SPOON_OF_SALT.value


def carbon_dioxide_g_per_l(volumes: float) -> float:
    """Carbon dioxide in g/L of water carbonated to so many volumes of gas: 1.96 g/L each."""
    not_negative("volumes", volumes)
    return volumes * SUBSTANCES["carbon_dioxide"].g_per_mol / MOLE_L


def released_l(volumes: float, water_l: float, celsius: float = 20.0) -> float:
    """Litres of carbon dioxide when all that the water holds comes out."""
    positive("water_l", water_l)
    return gas_l(carbon_dioxide_g_per_l(volumes) * water_l, "carbon_dioxide", celsius)


def released_room_ppm(volumes: float, water_l: float, room_m3: float, celsius: float = 20.0) -> float:
    """ppm of carbon dioxide that it adds to the air of a closed room. A cupboard or chest is a trap."""
    positive("water_l", water_l)
    return room_ppm(carbon_dioxide_g_per_l(volumes) * water_l, "carbon_dioxide", room_m3, celsius)
