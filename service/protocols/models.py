"""Protocols and their versions; a version that was used can't change."""

from typing import Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, Code, Id, Moment, NewId, Text, Versioned


class Protocol(Versioned, Base):
    """A written treatment; what it says stands in its versions."""

    __tablename__ = "protocol"

    id: Mapped[NewId]
    code: Mapped[Code] = mapped_column(unique=True)
    method: Mapped[Code]
    name: Mapped[Text]
    created_at: Mapped[Moment]


class ProtocolVersion(Base):
    """One version of a protocol; immutable from the moment it is written."""

    __tablename__ = "protocol_version"
    __table_args__ = (
        UniqueConstraint("protocol_id", "number"),
        CheckConstraint("number >= 1", name="number"),
    )

    id: Mapped[NewId]
    protocol_id: Mapped[Id] = mapped_column(ForeignKey("protocol.id"))
    number: Mapped[int]
    content: Mapped[Any] = mapped_column(JSON)
    reference_version: Mapped[Code | None]
    created_at: Mapped[Moment]
    created_by: Mapped[Code]
