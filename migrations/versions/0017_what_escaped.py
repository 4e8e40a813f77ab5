"""Pests of ours that customers found in cleared plants."""

import sqlalchemy as sa
from alembic import op

revision = "0017"
down_revision = "0016"
branch_labels = None
depends_on = None

ID = sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite")
MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    op.create_table(
        "escape",
        sa.Column("id", ID, nullable=False),
        sa.Column("complaint_id", ID, nullable=False),
        sa.Column("lot_id", ID, nullable=False),
        sa.Column("arrived_as", ID, nullable=False),
        sa.Column("pest", sa.String(length=80), nullable=False),
        sa.Column("at", MOMENT, nullable=False),
        sa.Column("recorded_at", MOMENT, nullable=False),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_escape_lot_id")),
        sa.ForeignKeyConstraint(["arrived_as"], ["lot.id"], name=op.f("fk_escape_arrived_as")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_escape")),
        sa.UniqueConstraint("complaint_id", "lot_id", name=op.f("uq_escape_complaint_id_lot_id")),
    )
    op.create_index("ix_escape_arrived_as", "escape", ["arrived_as"])
    op.create_index("ix_escape_pest", "escape", ["pest"])


def downgrade() -> None:
    op.drop_index("ix_escape_pest", "escape")
    op.drop_index("ix_escape_arrived_as", "escape")
    op.drop_table("escape")
