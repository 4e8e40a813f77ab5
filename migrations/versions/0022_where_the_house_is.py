"""Where the house is, by which official lists bind; how many units there were before a loss."""

import sqlalchemy as sa
from alembic import op

revision = "0022"
down_revision = "0021"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("house", sa.Column("country", sa.String(length=2), nullable=True))
    op.add_column("house", sa.Column("subdivision", sa.String(length=6), nullable=True))
    op.add_column("loss", sa.Column("there", sa.Integer(), nullable=True))


def downgrade() -> None:
    op.drop_column("loss", "there")
    op.drop_column("house", "subdivision")
    op.drop_column("house", "country")
