"""Identifiers: UUIDv7 (RFC 9562) for things, 128 random bits in Crockford base32 for what is public."""

import secrets
from uuid import UUID

import uuid_utils

CROCKFORD = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"


def new_id() -> str:
    """A UUIDv7 in its canonical text form: unique, and sorted by the time it was made."""
    return str(uuid_utils.uuid7())


def is_id(text: str) -> bool:
    """Whether a text is an id of a thing in its canonical form."""
    try:
        return str(UUID(text)) == text
    except ValueError:
        return False


def new_serial() -> str:
    """26 Crockford base32 characters holding 128 random bits: cannot be guessed, can be read aloud."""
    number = secrets.randbits(128)
    return "".join(CROCKFORD[(number >> shift) & 31] for shift in range(125, -1, -5))
