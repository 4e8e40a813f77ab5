"""How materials are ordered: service level, spread of the delivery, least order and costs."""

from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

# In plain SQL: SQLite adds a column with its check in place, where Alembic would copy the whole table.
CHECKED = {
    "lead_time_deviation_days": ("0", "lead_time_deviation", "lead_time_deviation_days >= 0"),
    "service_level": ("0.95", "service_level", "service_level > 0.5 AND service_level < 1"),
}
PLAIN: dict[str, sa.types.TypeEngine[Any]] = {
    "least_order_base_units": sa.BigInteger(),
    "pack_cost_minor": sa.Integer(),
    "order_cost_minor": sa.Integer(),
    "order_currency": sa.String(length=3),
}


def upgrade() -> None:
    kind = sa.Double().compile(dialect=op.get_bind().dialect)
    for column, (default, name, check) in CHECKED.items():
        op.execute(
            f"ALTER TABLE material ADD COLUMN {column} {kind} DEFAULT {default} NOT NULL"
            f" CONSTRAINT ck_material_{name} CHECK ({check})"
        )
    for column, plain in PLAIN.items():
        op.add_column("material", sa.Column(column, plain))


def downgrade() -> None:
    for column in (*PLAIN, *CHECKED):
        op.drop_column("material", column)
