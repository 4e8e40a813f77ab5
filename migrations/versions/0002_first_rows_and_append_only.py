"""The first rows; and the journal and the ledger are append-only: the database itself refuses changes."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

TABLES = ("journal_entry", "journal_subject", "stock_entry")


HOUSE = sa.table(
    "house",
    *(sa.column(name) for name in ("id", "time_zone", "units", "issuer_name", "issuer_address")),
    *(sa.column(name) for name in ("late_entry_limit_days", "version")),
)
HEAD = sa.table("journal_head", sa.column("id"), sa.column("seq"), sa.column("hash"))


def upgrade() -> None:
    op.execute(
        HOUSE.insert().values(
            id=1,
            time_zone="UTC",
            units="si",
            issuer_name="",
            issuer_address="",
            late_entry_limit_days=60,
            version=1,
        )
    )
    op.execute(HEAD.insert().values(id=1, seq=0, hash="0" * 64))
    if op.get_bind().dialect.name == "sqlite":
        for table in TABLES:
            for act in ("UPDATE", "DELETE"):
                op.execute(
                    f"CREATE TRIGGER {table}_no_{act.lower()} BEFORE {act} ON {table} "
                    f"BEGIN SELECT RAISE(ABORT, '{table} is append-only'); END"
                )
        return
    op.execute(
        "CREATE FUNCTION refuse_change() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION '% is append-only', TG_TABLE_NAME; END $$"
    )
    for table in TABLES:
        op.execute(
            f"CREATE TRIGGER {table}_append_only BEFORE UPDATE OR DELETE ON {table} "
            "FOR EACH ROW EXECUTE FUNCTION refuse_change()"
        )


def downgrade() -> None:
    if op.get_bind().dialect.name == "sqlite":
        for table in TABLES:
            for act in ("update", "delete"):
                op.execute(f"DROP TRIGGER {table}_no_{act}")
        return
    for table in TABLES:
        op.execute(f"DROP TRIGGER {table}_append_only ON {table}")
    op.execute("DROP FUNCTION refuse_change()")
