"""Whose a token is: two tokens of one person are one person where two are asked for."""

import sqlalchemy as sa
from alembic import op

revision = "0027"
down_revision = "0026"
branch_labels = None
depends_on = None

ID = sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite")


def upgrade() -> None:
    with op.batch_alter_table("token") as table:
        table.add_column(sa.Column("person_id", ID, nullable=True))
        table.create_foreign_key(op.f("fk_token_person_id"), "person", ["person_id"], ["id"])


def downgrade() -> None:
    with op.batch_alter_table("token") as table:
        table.drop_constraint(op.f("fk_token_person_id"), type_="foreignkey")
        table.drop_column("person_id")
