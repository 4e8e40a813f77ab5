"""Tokens: kept as the SHA-256 of 256 random bits, never in clear."""

from sqlalchemy import CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, Code, Id, Moment, NewId, Text, Versioned


class Token(Versioned, Base):
    """A bearer token of one person or program with one role."""

    __tablename__ = "token"
    __table_args__ = (
        CheckConstraint("role IN ('owner', 'manager', 'grower', 'seller', 'shop', 'auditor')", name="role"),
    )

    id: Mapped[NewId]
    name: Mapped[Text]
    role: Mapped[str] = mapped_column(String(10))
    digest: Mapped[str] = mapped_column(String(64), unique=True)
    created_at: Mapped[Moment]
    created_by: Mapped[Code]
    expires_at: Mapped[Moment]
    revoked_at: Mapped[Moment | None]
    person_id: Mapped[Id | None] = mapped_column(ForeignKey("person.id"))  # whose it is; None: a program's
