"""Units are promised."""

import sqlalchemy as sa
from alembic import op

revision = "0019"
down_revision = "0018"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "reservation",
        sa.Column("id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False),
        sa.Column("order_ref", sa.String(length=80), nullable=False),
        sa.Column("customer_ref", sa.String(length=2000), nullable=True),
        sa.Column("asked", sa.JSON(), nullable=False),
        sa.Column("status", sa.String(length=9), nullable=False),
        sa.Column("expires_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "(status = 'open') = (expires_at IS NOT NULL)", name=op.f("ck_reservation_only_open_runs_out")
        ),
        sa.CheckConstraint(
            "status IN ('open', 'confirmed', 'fulfilled', 'cancelled', 'expired', 'freed')",
            name=op.f("ck_reservation_status"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reservation")),
    )
    with op.batch_alter_table("reservation", schema=None) as batch_op:
        batch_op.create_index("ix_reservation_made", ["at", "id"], unique=False)
        batch_op.create_index(
            "uq_reservation_order",
            ["order_ref"],
            unique=True,
            sqlite_where=sa.text("status IN ('open', 'confirmed')"),
            postgresql_where=sa.text("status IN ('open', 'confirmed')"),
        )

    op.create_table(
        "reservation_line",
        sa.Column("id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False),
        sa.Column(
            "reservation_id",
            sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"),
            nullable=False,
        ),
        sa.Column(
            "lot_id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False
        ),
        sa.Column("quantity", sa.Integer(), nullable=False),
        sa.Column("sent", sa.Integer(), nullable=False),
        sa.Column("freed", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "quantity > 0 AND sent >= 0 AND freed >= 0", name=op.f("ck_reservation_line_quantity")
        ),
        sa.CheckConstraint("sent + freed <= quantity", name=op.f("ck_reservation_line_owed")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_reservation_line_lot_id")),
        sa.ForeignKeyConstraint(
            ["reservation_id"], ["reservation.id"], name=op.f("fk_reservation_line_reservation_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reservation_line")),
        sa.UniqueConstraint(
            "reservation_id", "lot_id", name=op.f("uq_reservation_line_reservation_id_lot_id")
        ),
    )
    with op.batch_alter_table("reservation_line", schema=None) as batch_op:
        batch_op.create_index("ix_reservation_line_lot", ["lot_id"], unique=False)

    op.create_table(
        "fulfilment",
        sa.Column("id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False),
        sa.Column(
            "dispatch_id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False
        ),
        sa.Column(
            "reservation_line_id",
            sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"),
            nullable=False,
        ),
        sa.Column("quantity", sa.Integer(), nullable=False),
        sa.CheckConstraint("quantity > 0", name=op.f("ck_fulfilment_quantity")),
        sa.ForeignKeyConstraint(["dispatch_id"], ["dispatch.id"], name=op.f("fk_fulfilment_dispatch_id")),
        sa.ForeignKeyConstraint(
            ["reservation_line_id"], ["reservation_line.id"], name=op.f("fk_fulfilment_reservation_line_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fulfilment")),
        sa.UniqueConstraint(
            "dispatch_id", "reservation_line_id", name=op.f("uq_fulfilment_dispatch_id_reservation_line_id")
        ),
    )
    with op.batch_alter_table("fulfilment", schema=None) as batch_op:
        batch_op.create_index("ix_fulfilment_line", ["reservation_line_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("fulfilment", schema=None) as batch_op:
        batch_op.drop_index("ix_fulfilment_line")

    op.drop_table("fulfilment")
    with op.batch_alter_table("reservation_line", schema=None) as batch_op:
        batch_op.drop_index("ix_reservation_line_lot")

    op.drop_table("reservation_line")
    with op.batch_alter_table("reservation", schema=None) as batch_op:
        batch_op.drop_index(
            "uq_reservation_order",
            sqlite_where=sa.text("status IN ('open', 'confirmed')"),
            postgresql_where=sa.text("status IN ('open', 'confirmed')"),
        )
        batch_op.drop_index("ix_reservation_made")

    op.drop_table("reservation")
