"""Photos of looks and observations: what is kept of them, and what they are of."""

import sqlalchemy as sa
from alembic import op

revision = "0035"
down_revision = "0034"
branch_labels = None
depends_on = None

ID = sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite")


def upgrade() -> None:
    op.create_table(
        "photo",
        sa.Column("id", ID, nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("sent_sha256", sa.String(length=64), nullable=False),
        sa.Column("media_type", sa.String(length=10), nullable=False),
        sa.Column("bytes", sa.Integer(), nullable=False),
        sa.Column("width", sa.Integer(), nullable=False),
        sa.Column("height", sa.Integer(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.CheckConstraint("media_type IN ('image/jpeg', 'image/png')", name=op.f("ck_photo_media_type")),
        sa.CheckConstraint("bytes > 0 AND width > 0 AND height > 0", name=op.f("ck_photo_size")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photo")),
        sa.UniqueConstraint("sha256", name=op.f("uq_photo_sha256")),
    )
    op.create_index("ix_photo_sent_sha256", "photo", ["sent_sha256"])
    op.create_table(
        "photo_of",
        sa.Column("id", ID, nullable=False),
        sa.Column("about_id", ID, nullable=False),
        sa.Column("photo_id", ID, nullable=False),
        sa.Column("label", sa.String(length=80), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.ForeignKeyConstraint(["photo_id"], ["photo.id"], name=op.f("fk_photo_of_photo_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_photo_of")),
        sa.UniqueConstraint(
            "about_id", "photo_id", "label", name=op.f("uq_photo_of_about_id_photo_id_label")
        ),
    )
    op.create_index("ix_photo_of_photo", "photo_of", ["photo_id"])


def downgrade() -> None:
    op.drop_table("photo_of")
    op.drop_table("photo")
