"""Names for lots and places that others can read: urn: names, or GS1 Digital Link when the nursery may.

A GTIN belongs to whoever was given the GS1 company prefix in it, and so do the batch numbers below it. A
lot gets a Digital Link only when the GTIN it is sold under is of the nursery's own prefix; nothing is ever
made up.
"""

from urllib.parse import quote

RESOLVER = "https://id.gs1.org"  # the canonical domain of GS1 Digital Link URIs
LONGEST_BATCH = 20  # AI 10, GS1 General Specifications


def gtin_14(gtin: str) -> str:
    """A GTIN of 8, 12, 13 or 14 digits as it stands in a Digital Link."""
    return gtin.rjust(14, "0")


def lot_uri(lot_id: str, code: str, gtin: str | None, prefix: str | None) -> str:
    """What a lot is called outside the house."""
    own = gtin is not None and prefix is not None and gtin_14(gtin)[1:].startswith(prefix)
    if gtin is None or not own or len(code) > LONGEST_BATCH:
        return f"urn:uuid:{lot_id}"
    return f"{RESOLVER}/01/{gtin_14(gtin)}/10/{quote(code, safe='')}"


def place_uri(gln: str | None, own_url: str) -> str:
    """What the house is called as a place: by its GLN (AI 414), or by its own address."""
    return f"{RESOLVER}/414/{gln}" if gln else f"{own_url}/"
