"""Private addresses of calendars: making one, ending it, and whose one is."""

import secrets

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.accounts.models import Token
from service.accounts.people_models import Person
from service.accounts.rules import READERS, digest
from service.agenda.models import CalendarAddress
from service.core.errors import NotFound, Refused
from service.journal.actions import record
from service.journal.acts import Act

SECRET_BYTES = 32  # 256 random bits: cannot be guessed, so needs no slow hash


def person_of(session: Session, caller_id: str) -> str:
    """The person who calls, himself or by a token of his; raises Refused for a program."""
    if session.get(Person, caller_id) is not None:
        return caller_id
    token = session.get(Token, caller_id)
    if token is None or token.person_id is None:
        detail = (
            "A calendar is a person's: sign in to the console, or use a token made for a person (person_id)."
        )
        raise Refused("not-a-person", detail)
    return token.person_id


def standing(session: Session, person_id: str, *, lock: bool = False) -> CalendarAddress | None:
    """The address of a person that stands, None when he has none."""
    asked = select(CalendarAddress).where(
        CalendarAddress.person_id == person_id, CalendarAddress.ended_at.is_(None)
    )
    return session.scalars(asked.with_for_update() if lock else asked).one_or_none()


def make_address(session: Session, act: Act, person_id: str) -> tuple[CalendarAddress, str]:
    """A new address with its secret, shown this once; the one before ends."""
    session.get(Person, person_id, with_for_update=True)  # so that two at once do not both stand
    earlier = standing(session, person_id, lock=True)
    if earlier is not None:
        earlier.ended_at = act.now
        session.flush()
    secret = secrets.token_urlsafe(SECRET_BYTES)
    made = CalendarAddress(person_id=person_id, digest=digest(secret), created_at=act.now, ended_at=None)
    session.add(made)
    record(session, act, "calendar.address_made", [made], after={"person_id": person_id})
    return made, secret


def end_address(session: Session, act: Act, person_id: str) -> None:
    """End the address of a person at once; raises NotFound when he has none."""
    found = standing(session, person_id, lock=True)
    if found is None:
        raise NotFound("calendar address")
    found.ended_at = act.now
    record(session, act, "calendar.address_ended", [found], after={"person_id": person_id})


def opens(session: Session, secret: str) -> bool:
    """Whether an address stands, and its person may still come in and read."""
    role = session.scalars(
        select(Person.role)
        .join(CalendarAddress, CalendarAddress.person_id == Person.id)
        .where(CalendarAddress.digest == digest(secret), CalendarAddress.ended_at.is_(None), Person.active)
    ).one_or_none()
    return role in READERS
