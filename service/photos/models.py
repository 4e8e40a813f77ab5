"""Photos, and what they are of."""

from sqlalchemy import CheckConstraint, ForeignKey, Index, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, Code, Id, Moment, NewId


class Photo(Base):
    """A photo in the folder, named by the SHA-256 of what is kept; `sent_sha256`: of what came."""

    __tablename__ = "photo"
    __table_args__ = (
        CheckConstraint("media_type IN ('image/jpeg', 'image/png')", name="media_type"),
        CheckConstraint("bytes > 0 AND width > 0 AND height > 0", name="size"),
        Index("ix_photo_sent_sha256", "sent_sha256"),
    )

    id: Mapped[NewId]
    sha256: Mapped[str] = mapped_column(String(64), unique=True)
    sent_sha256: Mapped[str] = mapped_column(String(64))
    media_type: Mapped[str] = mapped_column(String(10))
    bytes: Mapped[int]
    width: Mapped[int]
    height: Mapped[int]
    recorded_at: Mapped[Moment]
    by: Mapped[Code]


class PhotoOf(Base):
    """What a photo is of: a look or an observation, and there of a unit or tub by its label."""

    __tablename__ = "photo_of"
    __table_args__ = (
        UniqueConstraint("about_id", "photo_id", "label"),
        Index("ix_photo_of_photo", "photo_id"),
    )

    id: Mapped[NewId]
    about_id: Mapped[Id]
    photo_id: Mapped[Id] = mapped_column(ForeignKey("photo.id"))
    label: Mapped[Code]  # empty: of the whole
    at: Mapped[Moment]
    by: Mapped[Code]
