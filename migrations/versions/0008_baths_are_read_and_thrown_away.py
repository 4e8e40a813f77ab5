"""Baths are read and thrown away; none was mixed before."""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None

ID = sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite")


def upgrade() -> None:
    op.create_table(
        "bath_reading",
        sa.Column("id", ID, nullable=False),
        sa.Column("bath_id", ID, nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("mg_per_l", sa.Double(), nullable=False),
        sa.Column("kit", sa.String(length=2000), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.CheckConstraint("mg_per_l >= 0", name=op.f("ck_bath_reading_mg_per_l")),
        sa.ForeignKeyConstraint(["bath_id"], ["bath.id"], name=op.f("fk_bath_reading_bath_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bath_reading")),
    )
    op.create_index("ix_bath_reading_bath", "bath_reading", ["bath_id", "at"])
    op.add_column("bath", sa.Column("discard_reason", sa.String(length=2000)))
    op.add_column("bath", sa.Column("target_mg_per_l", sa.Double(), server_default="0", nullable=False))
    op.add_column("bath", sa.Column("mixed_mg_per_l", sa.Double(), server_default="0", nullable=False))
    op.add_column("bath", sa.Column("poured", sa.JSON(), server_default="[]", nullable=False))


def downgrade() -> None:
    for column in ("poured", "mixed_mg_per_l", "target_mg_per_l", "discard_reason"):
        op.drop_column("bath", column)
    op.drop_index("ix_bath_reading_bath", "bath_reading")
    op.drop_table("bath_reading")
