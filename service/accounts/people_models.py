"""People, where they are signed in, and failed attempts to sign in."""

from sqlalchemy import CheckConstraint, ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, Code, Id, Moment, NewId, Text, Versioned


class Person(Versioned, Base):
    """Somebody who signs in with a name and a password; only the argon2id hash of it is kept."""

    __tablename__ = "person"
    __table_args__ = (
        CheckConstraint("role IN ('owner', 'manager', 'grower', 'seller', 'auditor')", name="role"),
    )

    id: Mapped[NewId]
    name: Mapped[Code]
    name_key: Mapped[Code] = mapped_column(unique=True)
    role: Mapped[str] = mapped_column(String(10))
    password_hash: Mapped[str] = mapped_column(String(200))
    totp_sealed: Mapped[str | None] = mapped_column(String(400))
    totp_last_step: Mapped[int | None]
    active: Mapped[bool] = mapped_column(default=True)
    created_at: Mapped[Moment]
    created_by: Mapped[Code]


class SignedIn(Base):
    """One browser in which a person is signed in; revoked by ending it."""

    __tablename__ = "signed_in"
    __table_args__ = (Index("ix_signed_in_person", "person_id"),)

    id: Mapped[NewId]
    person_id: Mapped[Id] = mapped_column(ForeignKey("person.id"))
    digest: Mapped[str] = mapped_column(String(64), unique=True)
    created_at: Mapped[Moment]
    seen_at: Mapped[Moment]
    ended_at: Mapped[Moment | None]


class FailedSignIn(Base):
    """A failed attempt: the digest of the name asked for, and the address it came from."""

    __tablename__ = "failed_sign_in"
    __table_args__ = (
        Index("ix_failed_sign_in_name", "name_digest", "at"),
        Index("ix_failed_sign_in_address", "address", "at"),
    )

    id: Mapped[NewId]
    name_digest: Mapped[str] = mapped_column(String(64))
    address: Mapped[Text]
    at: Mapped[Moment]
