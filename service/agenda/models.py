"""The private addresses under which people's calendars read due work."""

from sqlalchemy import ForeignKey, Index, String, text
from sqlalchemy.orm import Mapped, mapped_column

from service.core.db import Base, Id, Moment, NewId


class CalendarAddress(Base):
    """An address of one person; only the digest of its secret part is kept. One stands at a time."""

    __tablename__ = "calendar_address"
    __table_args__ = (
        Index(
            "uq_calendar_address_standing",
            "person_id",
            unique=True,
            sqlite_where=text("ended_at IS NULL"),
            postgresql_where=text("ended_at IS NULL"),
        ),
    )

    id: Mapped[NewId]
    person_id: Mapped[Id] = mapped_column(ForeignKey("person.id"))
    digest: Mapped[str] = mapped_column(String(64), unique=True)
    created_at: Mapped[Moment]
    ended_at: Mapped[Moment | None]
