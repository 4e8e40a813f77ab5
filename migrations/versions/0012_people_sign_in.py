"""People sign in; the house has a locale."""

import sqlalchemy as sa
from alembic import op

revision = "0012"
down_revision = "0011"
branch_labels = None
depends_on = None

ID = sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite")
MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    op.create_table(
        "failed_sign_in",
        sa.Column("id", ID, nullable=False),
        sa.Column("name_digest", sa.String(length=64), nullable=False),
        sa.Column("address", sa.String(length=2000), nullable=False),
        sa.Column("at", MOMENT, nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_failed_sign_in")),
    )
    op.create_index("ix_failed_sign_in_address", "failed_sign_in", ["address", "at"])
    op.create_index("ix_failed_sign_in_name", "failed_sign_in", ["name_digest", "at"])
    op.create_table(
        "person",
        sa.Column("id", ID, nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("name_key", sa.String(length=80), nullable=False),
        sa.Column("role", sa.String(length=10), nullable=False),
        sa.Column("password_hash", sa.String(length=200), nullable=False),
        sa.Column("totp_sealed", sa.String(length=400), nullable=True),
        sa.Column("totp_last_step", sa.Integer(), nullable=True),
        sa.Column("active", sa.Boolean(), nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("created_by", sa.String(length=80), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "role IN ('owner', 'manager', 'grower', 'seller', 'auditor')", name=op.f("ck_person_role")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_person")),
        sa.UniqueConstraint("name_key", name=op.f("uq_person_name_key")),
    )
    op.create_table(
        "signed_in",
        sa.Column("id", ID, nullable=False),
        sa.Column("person_id", ID, nullable=False),
        sa.Column("digest", sa.String(length=64), nullable=False),
        sa.Column("created_at", MOMENT, nullable=False),
        sa.Column("seen_at", MOMENT, nullable=False),
        sa.Column("ended_at", MOMENT, nullable=True),
        sa.ForeignKeyConstraint(["person_id"], ["person.id"], name=op.f("fk_signed_in_person_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_signed_in")),
        sa.UniqueConstraint("digest", name=op.f("uq_signed_in_digest")),
    )
    op.create_index("ix_signed_in_person", "signed_in", ["person_id"])
    op.add_column("house", sa.Column("locale", sa.String(length=20), nullable=False, server_default="en"))


def downgrade() -> None:
    op.drop_column("house", "locale")
    op.drop_table("signed_in")
    op.drop_table("person")
    op.drop_table("failed_sign_in")
