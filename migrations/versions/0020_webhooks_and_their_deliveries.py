"""Webhooks and their deliveries."""

import sqlalchemy as sa
from alembic import op

revision = "0020"
down_revision = "0019"
branch_labels = None
depends_on = None

ID = sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite")
MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    op.create_table(
        "overdue_work",
        sa.Column("id", sa.String(length=36), nullable=False),
        sa.Column("told_at", MOMENT, nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_overdue_work")),
    )
    op.create_table(
        "webhook",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("url", sa.String(length=2000), nullable=False),
        sa.Column("types", sa.JSON(), nullable=False),
        sa.Column("generation", sa.Integer(), nullable=False),
        sa.Column("former_until", MOMENT, nullable=True),
        sa.Column("through", sa.BigInteger(), nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", sa.String(length=80), nullable=False),
        sa.Column("ended_at", MOMENT, nullable=True),
        sa.Column("end_reason", sa.String(length=10), nullable=True),
        sa.Column("paused_until", MOMENT, nullable=True),
        sa.Column("lease_token", sa.String(length=36), nullable=True),
        sa.Column("lease_until", MOMENT, nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("(ended_at IS NULL) = (end_reason IS NULL)", name=op.f("ck_webhook_ended")),
        sa.CheckConstraint("generation >= 1", name=op.f("ck_webhook_generation")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_webhook")),
    )
    op.create_table(
        "webhook_delivery",
        sa.Column("id", ID, nullable=False),
        sa.Column("webhook_id", ID, nullable=False),
        sa.Column("seq", sa.BigInteger(), nullable=False),
        sa.Column("n", sa.Integer(), nullable=False),
        sa.Column("event_id", sa.String(length=36), nullable=False),
        sa.Column("type", sa.String(length=80), nullable=False),
        sa.Column("subject", sa.String(length=80), nullable=False),
        sa.Column("state", sa.String(length=9), nullable=False),
        sa.Column("attempts", sa.Integer(), nullable=False),
        sa.Column("due_at", MOMENT, nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("tried_at", MOMENT, nullable=True),
        sa.Column("delivered_at", MOMENT, nullable=True),
        sa.Column("last_status", sa.Integer(), nullable=True),
        sa.Column("last_error", sa.String(length=2000), nullable=True),
        sa.CheckConstraint(
            "(state = 'delivered') = (delivered_at IS NOT NULL)", name=op.f("ck_webhook_delivery_delivered")
        ),
        sa.CheckConstraint(
            "state IN ('waiting', 'delivered', 'parked')", name=op.f("ck_webhook_delivery_state")
        ),
        sa.ForeignKeyConstraint(["webhook_id"], ["webhook.id"], name=op.f("fk_webhook_delivery_webhook_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_webhook_delivery")),
        sa.UniqueConstraint("webhook_id", "seq", "n", name=op.f("uq_webhook_delivery_webhook_id_seq_n")),
    )
    op.create_index(
        "ix_webhook_delivery_state", "webhook_delivery", ["webhook_id", "state", "subject", "seq", "n"]
    )


def downgrade() -> None:
    op.drop_index("ix_webhook_delivery_state", "webhook_delivery")
    op.drop_table("webhook_delivery")
    op.drop_table("webhook")
    op.drop_table("overdue_work")
