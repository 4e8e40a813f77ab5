"""Photos and papers, and what they are of."""

from sqlalchemy import CheckConstraint, ForeignKey, Index, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, Code, Id, Moment, NewId, Text


class Photo(Base):
    """A photo, or a paper as PDF, in the folder, named by the SHA-256 of what is kept.

    `sent_sha256`: of what came. A PDF is kept as it came and has no points.
    """

    __tablename__ = "photo"
    __table_args__ = (
        CheckConstraint("media_type IN ('image/jpeg', 'image/png', 'application/pdf')", name="media_type"),
        CheckConstraint(
            "bytes > 0 AND (width > 0 AND height > 0"
            " OR media_type = 'application/pdf' AND width IS NULL AND height IS NULL)",
            name="size",
        ),
        Index("ix_photo_sent_sha256", "sent_sha256"),
    )

    id: Mapped[NewId]
    sha256: Mapped[str] = mapped_column(String(64), unique=True)
    sent_sha256: Mapped[str] = mapped_column(String(64))
    media_type: Mapped[str] = mapped_column(String(15))
    bytes: Mapped[int]
    width: Mapped[int | None]
    height: Mapped[int | None]
    recorded_at: Mapped[Moment]
    by: Mapped[Code]


class PhotoOf(Base):
    """What a photo is of: a look, an observation or a shipment.

    `label`: the unit or tub of a trial that it shows, or which of the supplier's papers it is. One that was
    void stays, and says why; its picture is hidden.
    """

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
    voided_at: Mapped[Moment | None]
    voided_by: Mapped[Code | None]
    void_reason: Mapped[Text | None]
