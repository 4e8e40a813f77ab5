"""Trials of treatments."""

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "trial",
        sa.Column("id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False),
        sa.Column("name", sa.String(length=80), nullable=False),
        sa.Column("question", sa.String(length=2000), nullable=False),
        sa.Column("targets", sa.JSON(), nullable=False),
        sa.Column("seed", sa.Integer(), nullable=False),
        sa.Column("blind", sa.Boolean(), nullable=False),
        sa.Column("units_per_arm", sa.Integer(), nullable=False),
        sa.Column("power", sa.JSON(), nullable=False),
        sa.Column("starts_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("days", sa.Integer(), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("closed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("closed_by", sa.String(length=80), nullable=True),
        sa.Column("conclusion", sa.String(length=2000), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("(closed_at IS NULL) = (closed_by IS NULL)", name=op.f("ck_trial_closed_by")),
        sa.CheckConstraint("(closed_at IS NULL) = (conclusion IS NULL)", name=op.f("ck_trial_conclusion")),
        sa.CheckConstraint("days >= 3", name=op.f("ck_trial_days")),
        sa.CheckConstraint("units_per_arm > 0", name=op.f("ck_trial_units")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_trial")),
        sa.UniqueConstraint("name", name=op.f("uq_trial_name")),
    )
    with op.batch_alter_table("trial", schema=None) as batch_op:
        batch_op.create_index("ix_trial_starts_at", ["starts_at", "id"], unique=False)

    op.create_table(
        "trial_observation",
        sa.Column("id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False),
        sa.Column(
            "trial_id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False
        ),
        sa.Column("day", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("observer", sa.String(length=80), nullable=False),
        sa.Column("note", sa.String(length=2000), nullable=True),
        sa.Column("told", sa.JSON(), nullable=False),
        sa.Column("inspections", sa.JSON(), nullable=False),
        sa.Column("voided_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("voided_by", sa.String(length=80), nullable=True),
        sa.Column("void_reason", sa.String(length=2000), nullable=True),
        sa.CheckConstraint(
            "(voided_at IS NULL) = (void_reason IS NULL)", name=op.f("ck_trial_observation_void")
        ),
        sa.CheckConstraint("day >= 0", name=op.f("ck_trial_observation_day")),
        sa.ForeignKeyConstraint(["trial_id"], ["trial.id"], name=op.f("fk_trial_observation_trial_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_trial_observation")),
    )
    with op.batch_alter_table("trial_observation", schema=None) as batch_op:
        batch_op.create_index("ix_trial_observation_trial", ["trial_id", "at", "id"], unique=False)

    op.create_table(
        "trial_arm",
        sa.Column("id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False),
        sa.Column(
            "trial_id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False
        ),
        sa.Column("place", sa.Integer(), nullable=False),
        sa.Column("code", sa.String(length=80), nullable=False),
        sa.Column(
            "protocol_version_id",
            sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"),
            nullable=True,
        ),
        sa.ForeignKeyConstraint(
            ["protocol_version_id"], ["protocol_version.id"], name=op.f("fk_trial_arm_protocol_version_id")
        ),
        sa.ForeignKeyConstraint(["trial_id"], ["trial.id"], name=op.f("fk_trial_arm_trial_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_trial_arm")),
        sa.UniqueConstraint("trial_id", "code", name=op.f("uq_trial_arm_trial_id_code")),
    )
    op.create_table(
        "trial_adoption",
        sa.Column("id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False),
        sa.Column(
            "trial_id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False
        ),
        sa.Column(
            "arm_id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False
        ),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("by", sa.String(length=80), nullable=False),
        sa.Column("reason", sa.String(length=2000), nullable=False),
        sa.Column(
            "protocol_version_id",
            sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"),
            nullable=True,
        ),
        sa.Column("credits", sa.JSON(), nullable=False),
        sa.Column("tolerances", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(["arm_id"], ["trial_arm.id"], name=op.f("fk_trial_adoption_arm_id")),
        sa.ForeignKeyConstraint(
            ["protocol_version_id"],
            ["protocol_version.id"],
            name=op.f("fk_trial_adoption_protocol_version_id"),
        ),
        sa.ForeignKeyConstraint(["trial_id"], ["trial.id"], name=op.f("fk_trial_adoption_trial_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_trial_adoption")),
        sa.UniqueConstraint("trial_id", "arm_id", name=op.f("uq_trial_adoption_trial_id_arm_id")),
    )
    op.create_table(
        "trial_tub",
        sa.Column("id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False),
        sa.Column(
            "trial_id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False
        ),
        sa.Column(
            "arm_id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False
        ),
        sa.Column(
            "tub_id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False
        ),
        sa.Column("label", sa.String(length=80), nullable=False),
        sa.ForeignKeyConstraint(["arm_id"], ["trial_arm.id"], name=op.f("fk_trial_tub_arm_id")),
        sa.ForeignKeyConstraint(["trial_id"], ["trial.id"], name=op.f("fk_trial_tub_trial_id")),
        sa.ForeignKeyConstraint(["tub_id"], ["tub.id"], name=op.f("fk_trial_tub_tub_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_trial_tub")),
        sa.UniqueConstraint("trial_id", "label", name=op.f("uq_trial_tub_trial_id_label")),
    )
    with op.batch_alter_table("trial_tub", schema=None) as batch_op:
        batch_op.create_index("ix_trial_tub_tub", ["tub_id"], unique=False)

    op.create_table(
        "trial_unit",
        sa.Column("id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False),
        sa.Column(
            "trial_id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False
        ),
        sa.Column(
            "trial_tub_id",
            sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"),
            nullable=False,
        ),
        sa.Column(
            "lot_id", sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"), nullable=False
        ),
        sa.Column(
            "source_lot_id",
            sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite"),
            nullable=False,
        ),
        sa.Column("source_number", sa.Integer(), nullable=False),
        sa.Column("label", sa.String(length=80), nullable=False),
        sa.ForeignKeyConstraint(["lot_id"], ["lot.id"], name=op.f("fk_trial_unit_lot_id")),
        sa.ForeignKeyConstraint(["source_lot_id"], ["lot.id"], name=op.f("fk_trial_unit_source_lot_id")),
        sa.ForeignKeyConstraint(["trial_id"], ["trial.id"], name=op.f("fk_trial_unit_trial_id")),
        sa.ForeignKeyConstraint(["trial_tub_id"], ["trial_tub.id"], name=op.f("fk_trial_unit_trial_tub_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_trial_unit")),
        sa.UniqueConstraint("trial_id", "label", name=op.f("uq_trial_unit_trial_id_label")),
    )
    with op.batch_alter_table("trial_unit", schema=None) as batch_op:
        batch_op.create_index("ix_trial_unit_lot", ["lot_id"], unique=False)


def downgrade() -> None:
    with op.batch_alter_table("trial_unit", schema=None) as batch_op:
        batch_op.drop_index("ix_trial_unit_lot")

    op.drop_table("trial_unit")
    with op.batch_alter_table("trial_tub", schema=None) as batch_op:
        batch_op.drop_index("ix_trial_tub_tub")

    op.drop_table("trial_tub")
    op.drop_table("trial_adoption")
    op.drop_table("trial_arm")
    with op.batch_alter_table("trial_observation", schema=None) as batch_op:
        batch_op.drop_index("ix_trial_observation_trial")

    op.drop_table("trial_observation")
    with op.batch_alter_table("trial", schema=None) as batch_op:
        batch_op.drop_index("ix_trial_starts_at")

    op.drop_table("trial")
