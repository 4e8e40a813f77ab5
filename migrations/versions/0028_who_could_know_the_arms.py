"""An observation of a blind trial keeps why its observer could know the arms."""

import sqlalchemy as sa
from alembic import op

revision = "0028"
down_revision = "0027"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("trial_observation", sa.Column("could_know", sa.String(length=2000), nullable=True))


def downgrade() -> None:
    op.drop_column("trial_observation", "could_know")
