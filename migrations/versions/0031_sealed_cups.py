"""Cups of plants grown in vitro are looked at sealed, and opened; suppliers say whether they grow so."""

import sqlalchemy as sa
from alembic import op

revision = "0031"
down_revision = "0030"
branch_labels = None
depends_on = None

BEFORE = ("eyes", "strain", "bait", "bait_night")
MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    op.add_column("supplier", sa.Column("in_vitro", sa.Boolean(), server_default=sa.false(), nullable=False))
    for column in ("sealed_since", "opened_at"):
        op.add_column("lot", sa.Column(column, MOMENT, nullable=True))
    allow((*BEFORE, "sealed_cup"))


def downgrade() -> None:
    op.execute("UPDATE inspection SET method = 'eyes' WHERE method = 'sealed_cup'")
    allow(BEFORE)
    for column in ("opened_at", "sealed_since"):
        op.drop_column("lot", column)
    op.drop_column("supplier", "in_vitro")


def allow(methods: tuple[str, ...]) -> None:
    check = f"method IN ({', '.join(repr(method) for method in methods)})"
    with op.batch_alter_table("inspection") as batch:
        batch.drop_constraint(op.f("ck_inspection_method"), type_="check")
        batch.create_check_constraint(op.f("ck_inspection_method"), check)
