"""What the house and its plants are called by GS1, if they are."""

import sqlalchemy as sa
from alembic import op

revision = "0021"
down_revision = "0020"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("house", sa.Column("gs1_prefix", sa.String(length=12), nullable=True))
    op.add_column("house", sa.Column("gln", sa.String(length=13), nullable=True))
    op.add_column("plant", sa.Column("gtin", sa.String(length=14), nullable=True))


def downgrade() -> None:
    op.drop_column("plant", "gtin")
    op.drop_column("house", "gln")
    op.drop_column("house", "gs1_prefix")
