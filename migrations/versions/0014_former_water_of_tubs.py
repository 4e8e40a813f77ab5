"""What water system a tub was part of before, so that tracing knows whose water it shared."""

import sqlalchemy as sa
from alembic import op

revision = "0014"
down_revision = "0013"
branch_labels = None
depends_on = None

ID = sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite")


def upgrade() -> None:
    op.create_table(
        "former_water",
        sa.Column("id", ID, nullable=False),
        sa.Column("tub_id", ID, nullable=False),
        sa.Column("water_system_id", ID, nullable=True),
        sa.Column("until", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(["tub_id"], ["tub.id"], name=op.f("fk_former_water_tub_id")),
        sa.ForeignKeyConstraint(
            ["water_system_id"], ["water_system.id"], name=op.f("fk_former_water_water_system_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_former_water")),
    )
    op.create_index("ix_former_water_tub", "former_water", ["tub_id", "until"])
    op.create_index("ix_former_water_system", "former_water", ["water_system_id"])


def downgrade() -> None:
    op.drop_index("ix_former_water_system", "former_water")
    op.drop_index("ix_former_water_tub", "former_water")
    op.drop_table("former_water")
