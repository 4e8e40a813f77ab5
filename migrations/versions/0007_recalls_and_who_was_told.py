"""Recalls, the lots within their reach, and who was told."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "recall",
        sa.Column("id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False),
        sa.Column("origin", sa.String(length=10), nullable=False),
        sa.Column(
            "origin_id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False
        ),
        sa.Column("since", sa.DateTime(timezone=True), nullable=True),
        sa.Column("reason", sa.String(length=2000), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("closed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("closed_by", sa.String(length=80), nullable=True),
        sa.Column("conclusion", sa.String(length=2000), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "origin IN ('lot', 'find', 'complaint', 'batch', 'supplier')", name=op.f("ck_recall_origin")
        ),
        sa.CheckConstraint("(closed_at IS NULL) = (closed_by IS NULL)", name=op.f("ck_recall_closed_by")),
        sa.CheckConstraint("(closed_at IS NULL) = (conclusion IS NULL)", name=op.f("ck_recall_conclusion")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recall")),
    )
    with op.batch_alter_table("recall", schema=None) as batch_op:
        batch_op.create_index("ix_recall_at", ["at", "id"], unique=False)
        batch_op.create_index(
            "uq_recall_open",
            ["origin", "origin_id"],
            unique=True,
            sqlite_where=sa.text("closed_at IS NULL"),
            postgresql_where=sa.text("closed_at IS NULL"),
        )

    op.create_table(
        "recall_notice",
        sa.Column("id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False),
        sa.Column(
            "recall_id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False
        ),
        sa.Column(
            "dispatch_id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False
        ),
        sa.Column("way", sa.String(length=9), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.CheckConstraint(
            "way IN ('phone', 'mail', 'letter', 'in_person')", name=op.f("ck_recall_notice_way")
        ),
        sa.ForeignKeyConstraint(["dispatch_id"], ["dispatch.id"], name=op.f("fk_recall_notice_dispatch_id")),
        sa.ForeignKeyConstraint(["recall_id"], ["recall.id"], name=op.f("fk_recall_notice_recall_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_recall_notice")),
        sa.UniqueConstraint("recall_id", "dispatch_id", name=op.f("uq_recall_notice_recall_id_dispatch_id")),
    )
    op.create_table(
        "recall_lot",
        sa.Column(
            "recall_id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False
        ),
        sa.Column(
            "lot_id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False
        ),
        sa.Column("reached_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("path", sa.JSON(), nullable=False),
        sa.Column(
            "hold_id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=True
        ),
        sa.Column("revoked_serial", sa.String(length=26), nullable=True),
        sa.ForeignKeyConstraint(["hold_id"], ["hold.id"], name=op.f("fk_recall_lot_hold_id")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_recall_lot_lot_id")),
        sa.ForeignKeyConstraint(["recall_id"], ["recall.id"], name=op.f("fk_recall_lot_recall_id")),
        sa.PrimaryKeyConstraint("recall_id", "lot_id", name=op.f("pk_recall_lot")),
    )
    with op.batch_alter_table("recall_lot", schema=None) as batch_op:
        batch_op.create_index("ix_recall_lot_lot", ["lot_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("recall_lot", schema=None) as batch_op:
        batch_op.drop_index("ix_recall_lot_lot")

    op.drop_table("recall_lot")
    op.drop_table("recall_notice")
    with op.batch_alter_table("recall", schema=None) as batch_op:
        batch_op.drop_index(
            "uq_recall_open",
            sqlite_where=sa.text("closed_at IS NULL"),
            postgresql_where=sa.text("closed_at IS NULL"),
        )
        batch_op.drop_index("ix_recall_at")

    op.drop_table("recall")
