"""What customers complained of."""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "complaint",
        sa.Column("id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False),
        sa.Column(
            "dispatch_id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=True
        ),
        sa.Column(
            "certificate_id",
            sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"),
            nullable=True,
        ),
        sa.Column("what", sa.String(length=2000), nullable=False),
        sa.Column("pest", sa.String(length=80), nullable=True),
        sa.Column("size_mm", sa.Double(), nullable=True),
        sa.Column("days_since_delivery", sa.Integer(), nullable=True),
        sa.Column("photo", sa.Boolean(), nullable=False),
        sa.Column("other_new_plants", sa.Boolean(), nullable=True),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("verdict", sa.String(length=8), nullable=True),
        sa.Column("settlement", sa.String(length=7), nullable=True),
        sa.Column("claim_on_supplier", sa.Boolean(), nullable=True),
        sa.Column("judged_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("judged_by", sa.String(length=80), nullable=True),
        sa.Column("verdict_reason", sa.String(length=2000), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "settlement IN ('none', 'refund', 'replace', 'credit')", name=op.f("ck_complaint_settlement")
        ),
        sa.CheckConstraint("verdict IN ('ours', 'not_ours', 'unknown')", name=op.f("ck_complaint_verdict")),
        sa.CheckConstraint(
            "(dispatch_id IS NULL) <> (certificate_id IS NULL)", name=op.f("ck_complaint_against_one")
        ),
        sa.CheckConstraint("(verdict IS NULL) = (judged_at IS NULL)", name=op.f("ck_complaint_judged")),
        sa.CheckConstraint("days_since_delivery >= 0", name=op.f("ck_complaint_days")),
        sa.CheckConstraint("size_mm > 0", name=op.f("ck_complaint_size")),
        sa.ForeignKeyConstraint(
            ["certificate_id"], ["certificate.id"], name=op.f("fk_complaint_certificate_id")
        ),
        sa.ForeignKeyConstraint(["dispatch_id"], ["dispatch.id"], name=op.f("fk_complaint_dispatch_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_complaint")),
    )
    with op.batch_alter_table("complaint", schema=None) as batch_op:
        batch_op.create_index("ix_complaint_at", ["at", "id"], unique=False)

    op.create_table(
        "complaint_lot",
        sa.Column(
            "complaint_id",
            sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"),
            nullable=False,
        ),
        sa.Column(
            "lot_id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False
        ),
        sa.Column(
            "hold_id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=True
        ),
        sa.ForeignKeyConstraint(
            ["complaint_id"], ["complaint.id"], name=op.f("fk_complaint_lot_complaint_id")
        ),
        sa.ForeignKeyConstraint(["hold_id"], ["hold.id"], name=op.f("fk_complaint_lot_hold_id")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_complaint_lot_lot_id")),
        sa.PrimaryKeyConstraint("complaint_id", "lot_id", name=op.f("pk_complaint_lot")),
    )
    with op.batch_alter_table("complaint_lot", schema=None) as batch_op:
        batch_op.create_index("ix_complaint_lot_lot", ["lot_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("complaint_lot", schema=None) as batch_op:
        batch_op.drop_index("ix_complaint_lot_lot")

    op.drop_table("complaint_lot")
    with op.batch_alter_table("complaint", schema=None) as batch_op:
        batch_op.drop_index("ix_complaint_at")

    op.drop_table("complaint")
