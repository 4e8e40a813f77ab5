"""People: adding and changing them, signing in and out."""

import secrets
from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import delete, update
from sqlalchemy.orm import Session

from service.accounts.people_models import FailedSignIn, Person, SignedIn
from service.accounts.people_queries import name_key, person_by_name
from service.accounts.rules import Role, digest
from service.accounts.rules_people import KEPT, password_reasons
from service.core.errors import Invalid, Refused
from service.journal.actions import record
from service.journal.acts import Act


def add_person(
    session: Session, act: Act, *, name: str, role: Role, password_hash: str, totp_sealed: str | None = None
) -> Person:
    """Add somebody who may sign in; raises Refused when the name is taken."""
    if person_by_name(session, name) is not None:
        raise Refused("name-taken", f"There is already somebody called {name}.")
    person = Person(
        name=name,
        name_key=name_key(name),
        role=role.value,
        password_hash=password_hash,
        totp_sealed=totp_sealed,
        active=True,
        created_at=act.now,
        created_by=act.by,
    )
    session.add(person)
    record(session, act, "person.added", [person], after={"name": name, "role": role.value})
    return person


def acceptable(password: str, name: str) -> str:
    """The password again; raises Invalid saying why it will not do."""
    reasons = password_reasons(password, name)
    if reasons:
        raise Invalid("weak-password", reasons[0].detail, reasons)
    return password


def change_person(session: Session, act: Act, person: Person, changes: Mapping[str, Any]) -> None:
    """Change role, activity, password hash or sealed seed; whatever it is ends where he is signed in."""
    shown = {name: value for name, value in changes.items() if name in {"role", "active"}}
    before = {name: getattr(person, name) for name in shown}
    for name, value in changes.items():
        setattr(person, name, value)
    if "totp_sealed" in changes:
        person.totp_last_step = None
    record(
        session,
        act,
        "person.changed",
        [person],
        before=before,
        after={**shown, "changed": sorted(changes)},
    )
    end_everywhere(session, person.id, act.now)


def sign_in(session: Session, act: Act, person: Person, *, totp_step: int | None) -> str:
    """Sign a person in; gives the secret of the session, kept only as its digest.

    Raises Refused when the one-time password was used before.
    """
    if totp_step is not None:
        if person.totp_last_step is not None and totp_step <= person.totp_last_step:
            raise Refused("code-used", "This code was used before; wait for the next one.")
        person.totp_last_step = totp_step
    secret = secrets.token_urlsafe(32)
    session.add(
        SignedIn(
            person_id=person.id, digest=digest(secret), created_at=act.now, seen_at=act.now, ended_at=None
        )
    )
    session.execute(delete(FailedSignIn).where(FailedSignIn.name_digest == digest(person.name_key)))
    record(session, act, "person.signed_in", [person])
    return secret


def note_failure(session: Session, name: str, address: str, now: datetime) -> None:
    """Remember a failed attempt, and forget those that no longer count."""
    session.execute(delete(FailedSignIn).where(FailedSignIn.at <= now - KEPT))
    session.add(FailedSignIn(name_digest=digest(name_key(name)), address=address[:200], at=now))
    session.flush()


def seen(session: Session, secret: str, now: datetime) -> None:
    """Remember that a session was used."""
    session.execute(update(SignedIn).where(SignedIn.digest == digest(secret)).values(seen_at=now))


def sign_out(session: Session, secret: str, now: datetime) -> None:
    """End one session; ending it again changes nothing."""
    wanted = (SignedIn.digest == digest(secret), SignedIn.ended_at.is_(None))
    session.execute(update(SignedIn).where(*wanted).values(ended_at=now))


def end_everywhere(session: Session, person_id: str, now: datetime) -> None:
    """End every session of a person."""
    wanted = (SignedIn.person_id == person_id, SignedIn.ended_at.is_(None))
    session.execute(update(SignedIn).where(*wanted).values(ended_at=now))
