"""How much one container of a batch holds."""

from alembic import op

revision = "0004"
down_revision = "0003"
branch_labels = None
depends_on = None


def upgrade() -> None:
    # In plain SQL: SQLite adds a column with its check in place, where Alembic would copy the whole table.
    op.execute(
        "ALTER TABLE stock_batch ADD COLUMN container_base_units BIGINT"
        " CONSTRAINT ck_stock_batch_container_positive CHECK (container_base_units > 0)"
    )


def downgrade() -> None:
    op.drop_column("stock_batch", "container_base_units")
