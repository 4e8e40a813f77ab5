"""A house may learn how fast a pest's eggs develop: its own figures beside the published ones."""

import sqlalchemy as sa
from alembic import op

revision = "0024"
down_revision = "0023"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("pest", sa.Column("house_number", sa.Integer(), nullable=True))
    op.add_column("pest", sa.Column("published", sa.JSON(none_as_null=True), nullable=True))
    op.add_column("trial_adoption", sa.Column("development", sa.JSON(), server_default="[]", nullable=False))


def downgrade() -> None:
    op.drop_column("trial_adoption", "development")
    op.drop_column("pest", "published")
    op.drop_column("pest", "house_number")
