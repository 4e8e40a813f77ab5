"""Shelves, how warm they are, and which batches stand there since when."""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

ID = sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite")
MOMENT = sa.DateTime(timezone=True)
VALID = sa.text("voided_at IS NULL")


def upgrade() -> None:
    op.create_table(
        "shelf",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shelf")),
        sa.UniqueConstraint("name", name=op.f("uq_shelf_name")),
    )
    op.create_table(
        "shelf_reading",
        sa.Column("id", ID, nullable=False),
        sa.Column("shelf_id", ID, nullable=False),
        sa.Column("at", MOMENT, nullable=False),
        sa.Column("celsius", sa.Double(), nullable=False),
        sa.Column("recorded_at", MOMENT, nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("voided_at", MOMENT, nullable=True),
        sa.Column("void_reason", sa.String(length=2000), nullable=True),
        sa.CheckConstraint("celsius BETWEEN -30 AND 60", name=op.f("ck_shelf_reading_plausible")),
        sa.ForeignKeyConstraint(["shelf_id"], ["shelf.id"], name=op.f("fk_shelf_reading_shelf_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shelf_reading")),
    )
    op.create_index(
        "uq_shelf_reading_valid",
        "shelf_reading",
        ["shelf_id", "at"],
        unique=True,
        sqlite_where=VALID,
        postgresql_where=VALID,
    )
    op.create_table(
        "shelf_stay",
        sa.Column("id", ID, nullable=False),
        sa.Column("batch_id", ID, nullable=False),
        sa.Column("shelf_id", ID, nullable=True),
        sa.Column("since", MOMENT, nullable=False),
        sa.Column("recorded_at", MOMENT, nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.ForeignKeyConstraint(["batch_id"], ["stock_batch.id"], name=op.f("fk_shelf_stay_batch_id")),
        sa.ForeignKeyConstraint(["shelf_id"], ["shelf.id"], name=op.f("fk_shelf_stay_shelf_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_shelf_stay")),
    )
    op.create_index("ix_shelf_stay_batch", "shelf_stay", ["batch_id", "since", "id"])


def downgrade() -> None:
    op.drop_table("shelf_stay")
    op.drop_table("shelf_reading")
    op.drop_table("shelf")
