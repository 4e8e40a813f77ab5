"""Photos that were wrong are void, with who and why; a supplier's papers may be PDF, which have no points."""

import sqlalchemy as sa
from alembic import op

revision = "0037"
down_revision = "0036"
branch_labels = None
depends_on = None

PICTURES = "media_type IN ('image/jpeg', 'image/png')"
PAPERS = "media_type IN ('image/jpeg', 'image/png', 'application/pdf')"
POINTS = "bytes > 0 AND width > 0 AND height > 0"
POINTS_OR_PAPER = (
    "bytes > 0 AND (width > 0 AND height > 0"
    " OR media_type = 'application/pdf' AND width IS NULL AND height IS NULL)"
)


def upgrade() -> None:
    with op.batch_alter_table("photo") as table:
        table.drop_constraint(op.f("ck_photo_media_type"), type_="check")
        table.drop_constraint(op.f("ck_photo_size"), type_="check")
        table.alter_column(
            "media_type",
            existing_type=sa.String(length=10),
            type_=sa.String(length=15),
            existing_nullable=False,
        )
        table.alter_column("width", existing_type=sa.Integer(), nullable=True)
        table.alter_column("height", existing_type=sa.Integer(), nullable=True)
        table.create_check_constraint(op.f("ck_photo_media_type"), PAPERS)
        table.create_check_constraint(op.f("ck_photo_size"), POINTS_OR_PAPER)
    with op.batch_alter_table("photo_of") as table:
        table.add_column(sa.Column("voided_at", sa.DateTime(timezone=True), nullable=True))
        table.add_column(sa.Column("voided_by", sa.String(length=80), nullable=True))
        table.add_column(sa.Column("void_reason", sa.String(length=2000), nullable=True))


def downgrade() -> None:
    # The release before would show void photos and cannot show papers: their files go at night.
    op.execute("DELETE FROM photo_of WHERE voided_at IS NOT NULL")
    op.execute(
        "DELETE FROM photo_of WHERE photo_id IN (SELECT id FROM photo WHERE media_type = 'application/pdf')"
    )
    op.execute("DELETE FROM photo WHERE media_type = 'application/pdf'")
    with op.batch_alter_table("photo_of") as table:
        table.drop_column("void_reason")
        table.drop_column("voided_by")
        table.drop_column("voided_at")
    with op.batch_alter_table("photo") as table:
        table.drop_constraint(op.f("ck_photo_media_type"), type_="check")
        table.drop_constraint(op.f("ck_photo_size"), type_="check")
        table.alter_column("height", existing_type=sa.Integer(), nullable=False)
        table.alter_column("width", existing_type=sa.Integer(), nullable=False)
        table.alter_column(
            "media_type",
            existing_type=sa.String(length=15),
            type_=sa.String(length=10),
            existing_nullable=False,
        )
        table.create_check_constraint(op.f("ck_photo_media_type"), PICTURES)
        table.create_check_constraint(op.f("ck_photo_size"), POINTS)
