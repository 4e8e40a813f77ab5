"""What customers send back is a new lot; a dispatch may carry the house's plant-health registration number."""

import sqlalchemy as sa
from alembic import op

revision = "0033"
down_revision = "0032"
branch_labels = None
depends_on = None

ID = sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite")
MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    op.create_table(
        "returned_lot",
        sa.Column("id", ID, nullable=False),
        sa.Column("dispatch_id", ID, nullable=False),
        sa.Column("from_lot_id", ID, nullable=False),
        sa.Column("lot_id", ID, nullable=False),
        sa.Column("quantity", sa.Integer(), nullable=False),
        sa.Column("reason", sa.String(length=2000), nullable=False),
        sa.Column("at", MOMENT, nullable=False),
        sa.Column("recorded_at", MOMENT, nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.CheckConstraint("quantity > 0", name=op.f("ck_returned_lot_quantity")),
        sa.ForeignKeyConstraint(["dispatch_id"], ["dispatch.id"], name=op.f("fk_returned_lot_dispatch_id")),
        sa.ForeignKeyConstraint(["from_lot_id"], ["lot.id"], name=op.f("fk_returned_lot_from_lot_id")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_returned_lot_lot_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_returned_lot")),
        sa.UniqueConstraint("lot_id", name=op.f("uq_returned_lot_lot_id")),
    )
    op.create_index("ix_returned_lot_dispatch", "returned_lot", ["dispatch_id"])
    op.create_index("ix_returned_lot_from", "returned_lot", ["from_lot_id"])
    with op.batch_alter_table("lot") as table:
        table.add_column(sa.Column("returned_from_id", ID, nullable=True))
        table.add_column(sa.Column("away_since", MOMENT, nullable=True))
        table.create_foreign_key(op.f("fk_lot_returned_from_id"), "lot", ["returned_from_id"], ["id"])
        table.create_index("ix_lot_returned_from", ["returned_from_id"])
    for table_name in ("house", "dispatch"):
        op.add_column(table_name, sa.Column("registration_number", sa.String(length=80), nullable=True))


def downgrade() -> None:
    for table_name in ("dispatch", "house"):
        op.drop_column(table_name, "registration_number")
    with op.batch_alter_table("lot") as table:
        table.drop_index("ix_lot_returned_from")
        table.drop_constraint(op.f("fk_lot_returned_from_id"), type_="foreignkey")
        table.drop_column("away_since")
        table.drop_column("returned_from_id")
    op.drop_index("ix_returned_lot_from", "returned_lot")
    op.drop_index("ix_returned_lot_dispatch", "returned_lot")
    op.drop_table("returned_lot")
