"""Lots have parts, and looks say how many of each were looked at; none had before."""

import sqlalchemy as sa
from alembic import op

revision = "0030"
down_revision = "0029"
branch_labels = None
depends_on = None


def upgrade() -> None:
    for table in ("lot", "inspection"):
        op.add_column(table, sa.Column("strata", sa.JSON(), server_default="[]", nullable=False))


def downgrade() -> None:
    for table in ("inspection", "lot"):
        op.drop_column(table, "strata")
