"""Gas in the air of a closed room, and how much of it is dangerous."""

from collections.abc import Mapping
from types import MappingProxyType

from service.science.domain import not_negative, positive, within
from service.science.substances import SUBSTANCES, Figure, substance

GAS_CONSTANT = 8.314462618  # J/(mol K), CODATA 2018
KELVIN = 273.15
ATMOSPHERE_KPA = 101.325
ROOM_CELSIUS = 25.0  # where NIOSH and OSHA tables take a mole for 24.45 L

_NIOSH = "NIOSH IDLH documentation, chlorine, May 1994"
_POCKET = "NIOSH Pocket Guide, recalled"
# ppm in air: `ceiling` for 15 minutes, `danger` immediately dangerous to life or health, `day` a working day.
LIMITS: Mapping[tuple[str, str], Figure] = MappingProxyType(
    {
        ("chlorine", "ceiling"): Figure(0.5, "ppm", _NIOSH, "published"),
        ("chlorine", "danger"): Figure(10, "ppm", _NIOSH, "published"),
        ("carbon_dioxide", "day"): Figure(5000, "ppm", _POCKET, "memory"),
        ("carbon_dioxide", "danger"): Figure(40_000, "ppm", _POCKET, "memory"),
        ("sulfur_dioxide", "danger"): Figure(100, "ppm", _POCKET, "memory"),
    }
)


def molar_volume_l(celsius: float = ROOM_CELSIUS) -> float:
    """Litres of a mole of ideal gas at one atmosphere: 22.414 at 0 °C, 24.45 at 25 °C."""
    within("celsius", celsius, -50, 100)
    return GAS_CONSTANT * (celsius + KELVIN) / ATMOSPHERE_KPA


def gas_l(grams: float, gas: str, celsius: float = ROOM_CELSIUS) -> float:
    """Litres of a gas at one atmosphere."""
    not_negative("grams", grams)
    return grams / substance(gas).g_per_mol * molar_volume_l(celsius)


def room_ppm(grams: float, gas: str, room_m3: float, celsius: float = ROOM_CELSIUS) -> float:
    """ppm by volume when all the gas stays in a closed room and mixes with its air."""
    positive("room_m3", room_m3)
    return 1000 * gas_l(grams, gas, celsius) / room_m3


def chlorine_room_ppm(bleach_ml: float, available_chlorine_g_per_l: float, room_m3: float) -> float:
    """ppm of chlorine in a closed room when acid sets free all the chlorine of so much bleach."""
    not_negative("bleach_ml", bleach_ml)
    positive("available_chlorine_g_per_l", available_chlorine_g_per_l)
    return room_ppm(bleach_ml / 1000 * available_chlorine_g_per_l, "chlorine", room_m3)


def bleach_ml_for_ppm(ppm: float, available_chlorine_g_per_l: float, room_m3: float) -> float:
    """Millilitres of bleach that acid turns into so many ppm of chlorine in a closed room."""
    not_negative("ppm", ppm)
    positive("available_chlorine_g_per_l", available_chlorine_g_per_l)
    positive("room_m3", room_m3)
    grams = ppm * room_m3 / 1000 / molar_volume_l() * SUBSTANCES["chlorine"].g_per_mol
    return 1000 * grams / available_chlorine_g_per_l
