"""What the gates of a decision were judged by is kept with it, so that it can be judged again."""

import sqlalchemy as sa
from alembic import op

revision = "0023"
down_revision = "0022"
branch_labels = None
depends_on = None

ID = sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite")


def upgrade() -> None:
    op.create_table(
        "clearance_inputs",
        sa.Column("clearance_id", ID, nullable=False),
        sa.Column("content", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["clearance_id"], ["clearance.id"], name=op.f("fk_clearance_inputs_clearance_id")
        ),
        sa.PrimaryKeyConstraint("clearance_id", name=op.f("pk_clearance_inputs")),
    )


def downgrade() -> None:
    op.drop_table("clearance_inputs")
