"""Stays by when they ended, and of the lots that were split off or came back only those: tracing reads both."""

from alembic import op
from sqlalchemy import text

revision = "0038"
down_revision = "0037"
branch_labels = None
depends_on = None

FEW = {"ix_lot_parent": "parent_lot_id", "ix_lot_returned_from": "returned_from_id"}


def upgrade() -> None:
    op.create_index("ix_stay_tub_left", "stay", ["tub_id", "left_at"])
    for name, column in FEW.items():
        there = text(f"{column} IS NOT NULL")
        op.drop_index(name, "lot")
        op.create_index(name, "lot", [column], sqlite_where=there, postgresql_where=there)


def downgrade() -> None:
    for name, column in FEW.items():
        op.drop_index(name, "lot")
        op.create_index(name, "lot", [column])
    op.drop_index("ix_stay_tub_left", "stay")
