"""A customer's parcel has a certificate of its own, and one that was superseded names what stands in for it."""

import sqlalchemy as sa
from alembic import op

revision = "0016"
down_revision = "0015"
branch_labels = None
depends_on = None

ID = sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite")
BEFORE = sa.text("status = 'valid'")
OF_LOT = sa.text("status = 'valid' AND dispatch_id IS NULL")
OF_PARCEL = sa.text("status = 'valid' AND dispatch_id IS NOT NULL")


def upgrade() -> None:
    op.add_column("certificate", sa.Column("dispatch_id", ID, nullable=True))
    op.add_column("certificate", sa.Column("superseded_by", sa.String(length=26), nullable=True))
    op.drop_index("uq_certificate_living", "certificate")
    _unique("uq_certificate_living", ["lot_id"], OF_LOT)
    _unique("uq_certificate_living_parcel", ["lot_id", "dispatch_id"], OF_PARCEL)


def downgrade() -> None:
    op.drop_index("uq_certificate_living_parcel", "certificate")
    op.drop_index("uq_certificate_living", "certificate")
    # The release before knows one living certificate of a lot, so those of parcels go.
    op.execute("DELETE FROM certificate WHERE dispatch_id IS NOT NULL")
    op.drop_column("certificate", "superseded_by")
    op.drop_column("certificate", "dispatch_id")
    _unique("uq_certificate_living", ["lot_id"], BEFORE)


def _unique(name: str, columns: list[str], where: sa.TextClause) -> None:
    op.create_index(name, "certificate", columns, unique=True, sqlite_where=where, postgresql_where=where)
