"""Making and revoking tokens; changing the house's settings."""

import secrets
from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from sqlalchemy.orm import Session

from service.accounts.models import Token
from service.accounts.people_models import Person
from service.accounts.rules import PREFIX, Role, digest
from service.core.errors import Invalid
from service.core.house import House
from service.journal.actions import record
from service.journal.acts import Act


def create_token(  # what a token is
    session: Session, act: Act, *, name: str, role: Role, days: int, person_id: str | None = None
) -> tuple[Token, str]:
    """Make a token valid for `days`, for a person or a program; gives it with its secret, shown this once.

    Raises Invalid when there is no such person, or he may not come in any more.
    """
    person = None if person_id is None else session.get(Person, person_id)
    if person_id is not None and (person is None or not person.active):
        raise Invalid.at(
            "#/person_id", "There is nobody with this id who may come in.", code="unknown-person"
        )
    secret = PREFIX + secrets.token_urlsafe(32)
    token = Token(
        name=name,
        role=role.value,
        digest=digest(secret),
        created_at=act.now,
        created_by=act.by,
        expires_at=act.now + timedelta(days=days),
        person_id=person_id,
    )
    session.add(token)
    after = {"name": name, "role": role.value, "person_id": person_id}
    record(session, act, "token.created", [token], after=after)
    return token, secret


def revoke_token(session: Session, act: Act, token: Token) -> None:
    """Revoke a token at once; revoking it again changes nothing."""
    if token.revoked_at is None:
        token.revoked_at = act.now
        record(session, act, "token.revoked", [token], after={"revoked_at": act.now})


def change_house(session: Session, act: Act, house: House, changes: Mapping[str, Any]) -> None:
    """Change the house's settings; raises Invalid for a GLN or subdivision that is not its own."""
    before = {name: getattr(house, name) for name in changes}
    for name, value in changes.items():
        setattr(house, name, value)
    if house.gln is not None and not (house.gs1_prefix and house.gln.startswith(house.gs1_prefix)):
        raise Invalid.at("#/gln", "A GLN of the house begins with its gs1_prefix.")
    if house.subdivision is not None and not house.subdivision.startswith(f"{house.country}-"):
        raise Invalid.at("#/subdivision", "This subdivision is not of the house's country.")
    record(session, act, "house.changed", [house], before=before, after=changes)
