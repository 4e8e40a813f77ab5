"""Sales items: the number and the GTIN of a plant are those of one unit of it."""

from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import sqlalchemy as sa
from alembic import op

from service.core.ids import new_id

revision = "0025"
down_revision = "0024"
branch_labels = None
depends_on = None

ID = sa.Uuid(as_uuid=False).with_variant(sa.String(length=36), "sqlite")
UNITS = "unit_of_sale IN ('pot', 'bunch', 'stem', 'portion', 'cup', 'mat')"
PLANT = sa.table("plant", sa.column("id", ID), sa.column("code"), sa.column("sku"), sa.column("gtin"))
ITEM = sa.table("sales_item", *(sa.column(name) for name in ("id", "plant_id", "sku", "gtin", "created_at")))
LOT = sa.table("lot", sa.column("plant_id", ID), sa.column("unit_of_sale"))


def upgrade() -> None:
    made = op.create_table(
        "sales_item",
        sa.Column("id", ID, nullable=False),
        sa.Column("sku", sa.String(length=80), nullable=False),
        sa.Column("plant_id", ID, nullable=False),
        sa.Column("unit_of_sale", sa.String(length=10), nullable=False),
        sa.Column("gtin", sa.String(length=14), nullable=True),
        sa.Column("created_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(UNITS, name=op.f("ck_sales_item_unit_of_sale")),
        sa.ForeignKeyConstraint(["plant_id"], ["plant.id"], name=op.f("fk_sales_item_plant_id")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sales_item")),
        sa.UniqueConstraint("gtin", name=op.f("uq_sales_item_gtin")),
        sa.UniqueConstraint("plant_id", "unit_of_sale", name=op.f("uq_sales_item_plant_id_unit_of_sale")),
        sa.UniqueConstraint("sku", name=op.f("uq_sales_item_sku")),
    )
    rows = list(_items(op.get_bind()))
    if rows:
        op.bulk_insert(made, rows)
    with op.batch_alter_table("plant") as batch_op:
        batch_op.drop_constraint("uq_plant_sku", type_="unique")
        batch_op.drop_column("sku")
        batch_op.drop_column("gtin")


def downgrade() -> None:
    with op.batch_alter_table("plant") as batch_op:
        batch_op.add_column(sa.Column("sku", sa.String(length=80), nullable=True))
        batch_op.add_column(sa.Column("gtin", sa.String(length=14), nullable=True))
        batch_op.create_unique_constraint("uq_plant_sku", ["sku"])
    # A plant had one of each: of several units the first named gives its own.
    first = (
        sa.select(ITEM).where(ITEM.c.plant_id == PLANT.c.id).order_by(ITEM.c.created_at, ITEM.c.id).limit(1)
    )
    op.execute(
        PLANT.update().values(
            sku=first.with_only_columns(ITEM.c.sku).scalar_subquery(),
            gtin=first.with_only_columns(ITEM.c.gtin).scalar_subquery(),
        )
    )
    op.drop_table("sales_item")


def _items(connection: sa.Connection) -> Iterator[dict[str, Any]]:
    """The number of a plant goes to the unit that it came in most often, or to pots."""
    seen = set()
    named = sa.or_(PLANT.c.sku.is_not(None), PLANT.c.gtin.is_not(None))
    now = datetime.now(UTC)
    # Those with a number of their own first, so that nobody is given it before them.
    for plant in connection.execute(
        sa.select(PLANT).where(named).order_by(PLANT.c.sku.is_(None), PLANT.c.code)
    ).all():
        unit = connection.scalar(
            sa.select(LOT.c.unit_of_sale)
            .where(LOT.c.plant_id == plant.id)
            .group_by(LOT.c.unit_of_sale)
            .order_by(sa.func.count().desc(), LOT.c.unit_of_sale)
            .limit(1)
        )
        sku = plant.sku or (plant.code if plant.code not in seen else f"{plant.code}-{unit or 'pot'}")
        gtin = plant.gtin if plant.gtin not in seen else None
        seen |= {sku, gtin}
        yield {
            "id": new_id(),
            "sku": sku,
            "plant_id": plant.id,
            "unit_of_sale": unit or "pot",
            "gtin": gtin,
            "created_at": now,
            "version": 1,
        }
