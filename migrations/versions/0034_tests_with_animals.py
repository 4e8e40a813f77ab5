"""Soak water of lots is tried on shrimp or water fleas."""

import sqlalchemy as sa
from alembic import op

revision = "0034"
down_revision = "0033"
branch_labels = None
depends_on = None

ID = sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite")
MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    op.create_table(
        "animal_test",
        sa.Column("id", ID, nullable=False),
        sa.Column("lot_id", ID, nullable=False),
        sa.Column("animal", sa.String(length=10), nullable=False),
        sa.Column("animals", sa.Integer(), nullable=False),
        sa.Column("alive", sa.Integer(), nullable=False),
        sa.Column("started_at", MOMENT, nullable=False),
        sa.Column("ended_at", MOMENT, nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=True),
        sa.Column("recorded_at", MOMENT, nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.CheckConstraint("animal IN ('shrimp', 'water_flea')", name=op.f("ck_animal_test_animal")),
        sa.CheckConstraint(
            "animals > 0 AND alive >= 0 AND alive <= animals", name=op.f("ck_animal_test_counted")
        ),
        sa.CheckConstraint("ended_at > started_at", name=op.f("ck_animal_test_lasted")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_animal_test_lot_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_animal_test")),
    )
    op.create_index("ix_animal_test_lot", "animal_test", ["lot_id", "ended_at"])


def downgrade() -> None:
    op.drop_index("ix_animal_test_lot", "animal_test")
    op.drop_table("animal_test")
