"""What is left of the active mass after neutralising; every day's consumption is owed anew."""

from datetime import UTC, datetime
from uuid import uuid4

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None

ID = sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite")
OWED = sa.table(
    "owed_job",
    sa.column("id", ID),
    sa.column("kind", sa.String()),
    sa.column("key", sa.String()),
    sa.column("payload", sa.JSON()),
    sa.column("due_at", sa.DateTime(timezone=True)),
    sa.column("attempts", sa.Integer()),
)
DAYS = sa.table("consumption_day", sa.column("day", sa.Date()))


def upgrade() -> None:
    op.add_column("consumption_day", sa.Column("left_mg", sa.BigInteger(), nullable=True))
    op.create_index("ix_stock_entry_treatment", "stock_entry", ["treatment_id", "reason"])
    _owe_every_day()


def _owe_every_day() -> None:
    connection = op.get_bind()
    now = datetime.now(UTC)
    waiting = set(connection.scalars(sa.select(OWED.c.key).where(OWED.c.kind == "roll_up")))
    days = {day.isoformat() for day in connection.scalars(sa.select(DAYS.c.day).distinct())} - waiting
    rows = [
        {
            "id": str(uuid4()),
            "kind": "roll_up",
            "key": day,
            "payload": {"day": day},
            "due_at": now,
            "attempts": 0,
        }
        for day in sorted(days)
    ]
    if rows:
        connection.execute(sa.insert(OWED), rows)


def downgrade() -> None:
    op.drop_index("ix_stock_entry_treatment", "stock_entry")
    op.drop_column("consumption_day", "left_mg")
