"""Two people may decide on a lot, and an owner may override a gate; nobody did before."""

import sqlalchemy as sa
from alembic import op

revision = "0018"
down_revision = "0017"
branch_labels = None
depends_on = None

ID = sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite")
OPEN = sa.text("outcome IS NULL")


def upgrade() -> None:
    op.create_table(
        "clearance_proposal",
        sa.Column("id", ID, nullable=False),
        sa.Column("lot_id", ID, nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("policy", sa.String(length=80), nullable=False),
        sa.Column("overrides", sa.JSON(), nullable=False),
        sa.Column("outcome", sa.String(length=10)),
        sa.CheckConstraint(
            "outcome IN ('confirmed', 'overtaken')", name=op.f("ck_clearance_proposal_outcome")
        ),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_clearance_proposal_lot_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_clearance_proposal")),
    )
    op.create_index(
        "uq_clearance_proposal_open",
        "clearance_proposal",
        ["lot_id"],
        unique=True,
        sqlite_where=OPEN,
        postgresql_where=OPEN,
    )
    op.add_column("clearance", sa.Column("overrides", sa.JSON(), server_default="[]", nullable=False))
    op.add_column("clearance", sa.Column("proposed_by", sa.String(length=80)))


def downgrade() -> None:
    op.drop_column("clearance", "proposed_by")
    op.drop_column("clearance", "overrides")
    op.drop_index("uq_clearance_proposal_open", "clearance_proposal")
    op.drop_table("clearance_proposal")
