"""Finding tokens: by secret when a request comes in, as a list for the owner."""

from collections.abc import Sequence
from datetime import datetime
from functools import cache
from typing import Any

from sqlalchemy import Connection, Select, bindparam, or_, select
from sqlalchemy.orm import Session

from service.accounts.models import Token
from service.accounts.people_models import Person
from service.accounts.rules import digest
from service.core.errors import NotFound
from service.core.house import House
from service.core.ids import is_id

NAMES = ("id", "name", "role", "person_id", "created_at", "expires_at", "revoked_at", "version")


# Built once, because it is asked at every request: whoever was let in a moment ago may be out by now.
_LIVE = (
    select(Token.id, Token.name, Token.role)
    .outerjoin(Person, Person.id == Token.person_id)
    .where(
        Token.digest == bindparam("digest"),
        Token.revoked_at.is_(None),
        Token.expires_at > bindparam("now"),
        or_(Token.person_id.is_(None), Person.active),
    )
)


def identity(connection: Connection, secret: str, now: datetime) -> tuple[str, str, str] | None:
    """(id, name, role) of the live token with this secret, None when there is none.

    The token of somebody who may not come in any more is none.
    """
    bound = {"digest": digest(secret), "now": now}
    row = connection.execute(_LIVE, bound).one_or_none()
    return None if row is None else (row[0], row[1], row[2])


def same_person(session: Session, one: str, other: str) -> bool:
    """Whether two who act (ids of people and tokens, as the journal has them) may be one person.

    A token is whose it was made for. One made for nobody is whoever made it: else one person could make
    himself a second one.
    """
    return _whose(session, one) == _whose(session, other)


def _whose(session: Session, actor: str) -> str:
    made = select(Token.person_id, Token.created_by)
    while is_id(actor):  # not the name of a command
        row = session.execute(made.where(Token.id == actor)).one_or_none()
        if row is None:
            break
        actor = row.person_id or row.created_by
    return actor


@cache
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
        "registration_number",
        "gs1_prefix",
        "gln",
        "version",
    )
    return {name: getattr(house, name) for name in names}
