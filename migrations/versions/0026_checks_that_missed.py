"""Numbers asked for at the public check that are none, so that nobody finds numbers out by trying."""

import sqlalchemy as sa
from alembic import op

revision = "0026"
down_revision = "0025"
branch_labels = None
depends_on = None

ID = sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite")


def upgrade() -> None:
    op.create_table(
        "missed_check",
        sa.Column("id", ID, nullable=False),
        sa.Column("place", sa.String(length=80), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_missed_check")),
    )
    op.create_index("ix_missed_check_at", "missed_check", ["at"])
    op.create_index("ix_missed_check_place", "missed_check", ["place", "at"])


def downgrade() -> None:
    op.drop_index("ix_missed_check_place", table_name="missed_check")
    op.drop_index("ix_missed_check_at", table_name="missed_check")
    op.drop_table("missed_check")
