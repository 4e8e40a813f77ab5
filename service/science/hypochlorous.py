"""How much of free chlorine is hypochlorous acid, by pH and temperature."""

from service.science.domain import within

KELVIN = 273.15


def hypochlorous_pka(celsius: float) -> float:
    """pKa of hypochlorous acid: 3000.00 / T - 10.0686 + 0.0253 T.

    Morris, J. Phys. Chem. 70:3798 (1966), from measurements at 0 to 35 °C; OutOfDomain outside them.
    """
    within("celsius", celsius, 0, 35)
    kelvin = celsius + KELVIN
    return 3000.00 / kelvin - 10.0686 + 0.0253 * kelvin


def hypochlorous_share(ph: float, celsius: float) -> float:
    """Share of free chlorine that is HOCl, the rest OCl-. A fresh bleach dip (pH 11) holds almost none.

    Never acidify a dip to raise it: below pH 5 chlorine gas comes off.
    """
    within("ph", ph, 0, 14)
    return float(1 / (1 + 10 ** (ph - hypochlorous_pka(celsius))))
