"""Cleared lots that wait are looked at again; until when they are good is kept.

For lots cleared before, the last day of the certificate stands in until the first look after it, or
`dipledger rebuild`.
"""

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column("lot", sa.Column("good_until", sa.DateTime(timezone=True)))
    op.execute(
        "UPDATE lot SET good_until = "
        "(SELECT expires_at FROM certificate WHERE certificate.serial = lot.certificate_serial) "
        "WHERE state = 'cleared'"
    )


def downgrade() -> None:
    op.drop_column("lot", "good_until")
