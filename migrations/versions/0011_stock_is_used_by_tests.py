"""Stock is used by tests too."""

from alembic import op

revision = "0011"
down_revision = "0010"
branch_labels = None
depends_on = None

BEFORE = ("receipt", "treatment", "redose", "neutralise", "count", "disposal", "spill", "reversal")
AFTER = ("receipt", "treatment", "redose", "neutralise", "test", "count", "disposal", "spill", "reversal")


def upgrade() -> None:
    allow(AFTER)


def downgrade() -> None:
    """Refused by the check itself while a test is on record: history is not edited."""
    allow(BEFORE)


def allow(reasons: tuple[str, ...]) -> None:
    check = f"reason IN ({', '.join(repr(reason) for reason in reasons)})"
    if op.get_bind().dialect.name != "sqlite":
        op.drop_constraint(op.f("ck_stock_entry_reason"), "stock_entry")
        op.create_check_constraint(op.f("ck_stock_entry_reason"), "stock_entry", check)
        return
    # SQLite changes a check only by building the table anew, and the triggers go with the old one.
    with op.batch_alter_table("stock_entry") as batch:
        batch.drop_constraint(op.f("ck_stock_entry_reason"), type_="check")
        batch.create_check_constraint(op.f("ck_stock_entry_reason"), check)
    for act in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER stock_entry_no_{act.lower()} BEFORE {act} ON stock_entry "
            "BEGIN SELECT RAISE(ABORT, 'stock_entry is append-only'); END"
        )
