"""Private addresses under which people's calendars read due work."""

import sqlalchemy as sa
from alembic import op

revision = "0036"
down_revision = "0035"
branch_labels = None
depends_on = None

ID = sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite")


def upgrade() -> None:
    op.create_table(
        "calendar_address",
        sa.Column("id", ID, nullable=False),
        sa.Column("person_id", ID, nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_calendar_address_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_calendar_address")),
        sa.UniqueConstraint("digest", name=op.f("uq_calendar_address_digest")),
    )
    standing = sa.text("ended_at IS NULL")
    op.create_index(
        "uq_calendar_address_standing",
        "calendar_address",
        ["person_id"],
        unique=True,
        sqlite_where=standing,
        postgresql_where=standing,
    )


def downgrade() -> None:
    op.drop_table("calendar_address")
