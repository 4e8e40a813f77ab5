"""Reading people, their sessions and failed attempts."""

import unicodedata
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from functools import cache
from typing import Any

from sqlalchemy import Select, bindparam, select
from sqlalchemy.orm import Session

from service.accounts.people_models import FailedSignIn, Person, SignedIn
from service.accounts.rules import digest
from service.accounts.rules_people import KEPT, address_wait_until, lives, wait_until
from service.core.errors import NotFound

# Asked for every page, so it is put together once, of tables and not of entities.
_PERSON, _SIGNED_IN = Person.__table__.c, SignedIn.__table__.c
PRESENT = (
    select(_PERSON.id, _PERSON.name, _PERSON.role, _SIGNED_IN.created_at, _SIGNED_IN.seen_at)
    .join_from(SignedIn.__table__, Person.__table__, _PERSON.id == _SIGNED_IN.person_id)
    .where(_SIGNED_IN.digest == bindparam("digest"), _SIGNED_IN.ended_at.is_(None), _PERSON.active)
)
NAMES = ("id", "name", "role", "active", "created_at", "version")


@dataclass(frozen=True)
class Present:
    """Who is signed in, and when he was last seen."""

    id: str
    name: str
    role: str
    seen_at: datetime


def name_key(name: str) -> str:
    """A name as it is compared: NFKC, case folded, single blanks."""
    return " ".join(unicodedata.normalize("NFKC", name).casefold().split())


def person_by_name(session: Session, name: str) -> Person | None:
    """The person of this name, however it is capitalised."""
    return session.scalars(select(Person).where(Person.name_key == name_key(name))).one_or_none()


def person_by_id(session: Session, person_id: str) -> Person:
    """One person; raises NotFound."""
    found = session.get(Person, person_id)
    if found is None:
        raise NotFound("person")
    return found


def person_for_change(session: Session, person_id: str) -> Person:
    """One person, locked; raises NotFound."""
    found = session.get(Person, person_id, with_for_update=True)
    if found is None:
        raise NotFound("person")
    return found


@cache
def people() -> Select[Any]:
    """Everybody, without what proves them."""
    return select(*(getattr(Person, name) for name in NAMES), Person.totp_sealed.is_not(None))


def person_shape(row: Sequence[Any]) -> dict[str, Any]:
    """A person as answered."""
    return {**dict(zip(NAMES, row[:-1], strict=True)), "one_time_password": bool(row[-1])}


def person_view(person: Person) -> dict[str, Any]:
    """One person as answered."""
    return person_shape([*(getattr(person, name) for name in NAMES), person.totp_sealed is not None])


def present(session: Session, secret: str, now: datetime) -> Present | None:
    """Who is signed in with this secret, None when nobody is any more."""
    row = session.connection().execute(PRESENT, {"digest": digest(secret)}).one_or_none()
    if row is None or not lives(row.created_at, row.seen_at, now):
        return None
    return Present(row.id, row.name, row.role, row.seen_at)


def locked_until(session: Session, name: str, address: str, now: datetime) -> datetime | None:
    """Until when no sign-in of this name or from this address is looked at."""
    since = FailedSignIn.at > now - KEPT
    of_name = select(FailedSignIn.at).where(FailedSignIn.name_digest == digest(name_key(name)), since)
    of_address = select(FailedSignIn.at).where(FailedSignIn.address == address[:200], since)
    waits = (
        wait_until(session.scalars(of_name).all(), now),
        address_wait_until(session.scalars(of_address).all(), now),
    )
    return max((until for until in waits if until is not None), default=None)


def names_of(session: Session) -> Mapping[str, str]:
    """The name of everybody who acts, people by id; tokens are added by whoever shows them."""
    return {row.id: row.name for row in session.execute(select(Person.id, Person.name))}
