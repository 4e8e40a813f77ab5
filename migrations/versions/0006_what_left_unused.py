"""An index of the few lines that are counts and disposals, for the report of losses."""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"
branch_labels = None
depends_on = None

UNUSED = sa.text("reason IN ('count', 'disposal', 'spill')")


def upgrade() -> None:
    op.create_index(
        "ix_stock_entry_unused", "stock_entry", ["at"], sqlite_where=UNUSED, postgresql_where=UNUSED
    )


def downgrade() -> None:
    op.drop_index("ix_stock_entry_unused", "stock_entry")
