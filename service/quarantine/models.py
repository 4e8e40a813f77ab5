"""Policies: how long is waited and what must be shown. They lie here because waiting needs them first."""

from typing import Any

from sqlalchemy import JSON, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, Code, Moment, NewId


class Policy(Base):
    """A version of the thresholds for clearance; never changed once written."""

    __tablename__ = "policy"
    __table_args__ = (UniqueConstraint("code", "number"),)

    id: Mapped[NewId]
    code: Mapped[Code]
    number: Mapped[int]
    content: Mapped[Any] = mapped_column(JSON)  # the dataclass service.reference.policies.Policy
    reference_version: Mapped[Code | None]
    created_at: Mapped[Moment]
