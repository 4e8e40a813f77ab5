"""Keys of GS1 (GTIN, GLN, company prefix): their form and check digit."""

GTIN = frozenset({8, 12, 13, 14})
GLN = frozenset({13})


def check_digit(digits: str) -> str:
    """The last digit of a GS1 key from those before it: modulo 10, weights 3 and 1 from the right."""
    total = sum(int(digit) * (3 if place % 2 == 0 else 1) for place, digit in enumerate(reversed(digits)))
    return str(-total % 10)


def is_key(text: str, lengths: frozenset[int]) -> bool:
    """Whether a text is a GS1 key of one of these lengths with a right check digit."""
    digits = text.isascii() and text.isdigit()
    return digits and len(text) in lengths and check_digit(text[:-1]) == text[-1]


def same_item(gtin: str | None) -> set[str]:
    """Every way in which the GTIN is written: with 8, 12, 13 or 14 digits, zeros in front; none of none."""
    if gtin is None:
        return set()
    whole = gtin.rjust(max(GTIN), "0")
    return {whole[-length:] for length in GTIN if not whole[:-length].strip("0")}
