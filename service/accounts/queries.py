"""Finding tokens: by secret when a request comes in, as a list for the owner."""

from collections.abc import Sequence
from datetime import datetime
from typing import Any

from sqlalchemy import Select, select
from sqlalchemy.orm import Session

from service.accounts.models import Token
from service.accounts.rules import digest
from service.core.errors import NotFound
from service.core.house import House

NAMES = ("id", "name", "role", "created_at", "expires_at", "revoked_at", "version")


def identity(session: Session, secret: str, now: datetime) -> tuple[str, str, str] | None:
    """(id, name, role) of the live token with this secret, None when there is none."""
    row = session.execute(
        select(Token.id, Token.name, Token.role).where(
            Token.digest == digest(secret),
            Token.revoked_at.is_(None),
            Token.expires_at > now,
        )
    ).one_or_none()
    return None if row is None else (row[0], row[1], row[2])


def tokens() -> Select[Any]:
    """Every token, without its digest."""
    return select(*(getattr(Token, name) for name in NAMES))


def token_shape(row: Sequence[Any]) -> dict[str, Any]:
    """A token as answered."""
    return dict(zip(NAMES, row, strict=True))


def token_for_change(session: Session, token_id: str) -> Token:
    """One token, locked; raises NotFound."""
    token = session.get(Token, token_id, with_for_update=True)
    if token is None:
        raise NotFound("token")
    return token


def house_shape(house: House) -> dict[str, Any]:
    """The settings as answered."""
    names = (
        "time_zone",
        "locale",
        "units",
        "issuer_name",
        "issuer_address",
        "late_entry_limit_days",
        "country",
        "subdivision",
        "gs1_prefix",
        "gln",
        "version",
    )
    return {name: getattr(house, name) for name in names}
