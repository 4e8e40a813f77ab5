"""Roles, and what each group of them may do."""

import hashlib
from enum import StrEnum


class Role(StrEnum):
    """What a token may do."""

    OWNER = "owner"
    MANAGER = "manager"
    GROWER = "grower"
    SELLER = "seller"
    SHOP = "shop"
    AUDITOR = "auditor"


OWNERS = frozenset({Role.OWNER})
MANAGERS = frozenset({Role.OWNER, Role.MANAGER})  # clear lots, certificates, protocols' upkeep
BENCH = frozenset({Role.OWNER, Role.MANAGER, Role.GROWER})  # everything done at the bench
SALES = frozenset({Role.OWNER, Role.MANAGER, Role.SELLER, Role.SHOP})  # promise and dispatch
STAFF = frozenset({Role.OWNER, Role.MANAGER, Role.GROWER, Role.SELLER})  # hold, the safe direction
READERS = frozenset({Role.OWNER, Role.MANAGER, Role.GROWER, Role.SELLER, Role.AUDITOR})
EVERYONE = frozenset(Role)

PREFIX = "dlt_"
LONGEST_DAYS = 365
DEFAULT_DAYS = 90


def digest(secret: str) -> str:
    """How a secret is kept; 256 random bits need no slow hash."""
    return hashlib.sha256(secret.encode()).hexdigest()
