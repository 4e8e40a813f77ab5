"""How much came within reach of a recall since, by the last trace; how a supplier's last lots came."""

import sqlalchemy as sa
from alembic import op

revision = "0029"
down_revision = "0028"
branch_labels = None
depends_on = None


def upgrade() -> None:
    newly = sa.Column("newly_within_reach", sa.Integer(), server_default="0", nullable=False)
    op.add_column("recall", newly)
    op.add_column("shipment", sa.Column("supplier_warning", sa.String(length=2000), nullable=True))


def downgrade() -> None:
    op.drop_column("shipment", "supplier_warning")
    op.drop_column("recall", "newly_within_reach")
