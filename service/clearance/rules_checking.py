"""The public check: what a number of a statement looks like, and who asked for too many that are none."""

import re
from collections.abc import Sequence
from datetime import datetime, timedelta
from ipaddress import IPv6Address, ip_address, ip_network

WINDOW = timedelta(minutes=15)
READ_AS = str.maketrans({"I": "1", "L": "1", "O": "0", "-": None, " ": None})
SERIAL = re.compile(r"[0-9A-HJKMNP-TV-Z]{26}")  # 128 bits in Crockford base32


def serial_of(asked: str) -> str | None:
    """The serial that somebody typed, letters easily mistaken read as meant; None when it is none."""
    read = asked.upper().translate(READ_AS)
    return read if SERIAL.fullmatch(read) else None


def place_of(address: str | None) -> str:
    """What is counted as one place of the network: an IPv4 address, or the /64 that one IPv6 user gets.

    RFC 4291, section 2.5.4: the last 64 bits name the interface, and whoever asks chooses them freely. An
    IPv4 address inside an IPv6 one (section 2.5.5.2) is that IPv4 address.
    """
    try:
        found = ip_address((address or "").partition("%")[0])
    except ValueError:
        return ""
    if not isinstance(found, IPv6Address):
        return str(found)
    mapped = found.ipv4_mapped
    return str(mapped or ip_network((found, 64), strict=False))


def closed_until(misses: Sequence[datetime], most: int, now: datetime) -> datetime | None:
    """Until when nothing is looked up for a place; None while it asked for fewer than `most` unknown ones."""
    recent = sorted(at for at in misses if at > now - WINDOW)
    return recent[-most] + WINDOW if len(recent) >= most else None
