"""Stems are tried before the rest of a lot and judged; how many survived a method here before is a number."""

import sqlalchemy as sa
from alembic import op

revision = "0032"
down_revision = "0031"
branch_labels = None
depends_on = None

ID = sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite")
MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    op.create_table(
        "stem_trial",
        sa.Column("id", ID, nullable=False),
        sa.Column("lot_id", ID, nullable=False),
        sa.Column("protocol_version_id", ID, nullable=False),
        sa.Column("stems", sa.Integer(), nullable=False),
        sa.Column("tried_at", MOMENT, nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=True),
        sa.Column("recorded_at", MOMENT, nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.CheckConstraint("stems > 0", name=op.f("ck_stem_trial_stems")),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_stem_trial_lot_id")),
        sa.ForeignKeyConstraint(
            ["protocol_version_id"], ["protocol_version.id"], name=op.f("fk_stem_trial_protocol_version_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stem_trial")),
    )
    op.create_index("ix_stem_trial_lot", "stem_trial", ["lot_id", "tried_at"])
    op.create_table(
        "stem_judgement",
        sa.Column("id", ID, nullable=False),
        sa.Column("stem_trial_id", ID, nullable=False),
        sa.Column("at", MOMENT, nullable=False),
        sa.Column("alive", sa.Integer(), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=True),
        sa.Column("recorded_at", MOMENT, nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.CheckConstraint("alive >= 0", name=op.f("ck_stem_judgement_alive")),
        sa.ForeignKeyConstraint(
            ["stem_trial_id"], ["stem_trial.id"], name=op.f("fk_stem_judgement_stem_trial_id")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stem_judgement")),
    )
    op.create_index("ix_stem_judgement_trial", "stem_judgement", ["stem_trial_id", "at"])
    op.add_column("treatment", sa.Column("survived_here", sa.Integer(), nullable=True))


def downgrade() -> None:
    op.drop_column("treatment", "survived_here")
    op.drop_index("ix_stem_judgement_trial", "stem_judgement")
    op.drop_table("stem_judgement")
    op.drop_index("ix_stem_trial_lot", "stem_trial")
    op.drop_table("stem_trial")
