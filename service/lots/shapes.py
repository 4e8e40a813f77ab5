"""How a lot is answered: the columns its members are made of, read in one statement."""

from collections.abc import Sequence
from datetime import UTC, datetime
from operator import itemgetter
from typing import Any
from uuid import UUID

import orjson
from sqlalchemy import ScalarSelect, Select, literal_column, select
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.sql.functions import FunctionElement
from sqlalchemy.types import NullType

from service.catalogue.models import Plant, Supplier
from service.core.rows import Made, Rows, of
from service.lots.models import Hold, Lot

QUANTITY = ("received", "gained", "left", "reserved", "sold", "lost", "split_off", "disposed")
RELEASE = ("release_day", "release_day_computed_at", "release_day_stale")


class _JsonRows(FunctionElement[Any]):
    """The rows of a subquery as one JSON list of objects; arguments are names and columns in turn."""

    name = "json_rows"
    inherit_cache = True
    type = NullType()


@compiles(_JsonRows)
def _json_rows(element: _JsonRows, compiler: SQLCompiler, **kw: Any) -> str:
    return f"json_agg(json_build_object({compiler.process(element.clauses, **kw)}))"


@compiles(_JsonRows, "sqlite")
def _json_rows_sqlite(element: _JsonRows, compiler: SQLCompiler, **kw: Any) -> str:
    return f"json_group_array(json_object({compiler.process(element.clauses, **kw)}))"


def _open_holds() -> ScalarSelect[Any]:
    rows = _JsonRows(
        literal_column("'id'"),
        Hold.id,
        literal_column("'cause'"),
        Hold.cause,
        literal_column("'since'"),
        Hold.since,
    )
    return (
        select(rows).where(Hold.lot_id == Lot.id, Hold.lifted_at.is_(None)).correlate(Lot).scalar_subquery()
    )


def holds_shape(found: str | Sequence[Any] | None) -> Sequence[dict[str, Any]]:
    """Open holds as answered, oldest first, from the JSON that a database made of their rows."""
    if not found or found == "[]":
        return ()
    rows = orjson.loads(found) if isinstance(found, str) else found
    return sorted(map(_hold, rows), key=itemgetter("since", "id"))


def _hold(row: dict[str, Any]) -> dict[str, Any]:
    # Inside JSON each database writes ids and moments in its own way.
    since = datetime.fromisoformat(row["since"])
    aware = since.replace(tzinfo=UTC) if since.tzinfo is None else since.astimezone(UTC)
    return {"id": str(UUID(row["id"])), "cause": row["cause"], "since": aware}


def _joined(found: Select[Any]) -> Select[Any]:
    return found.join(Plant, Plant.id == Lot.plant_id).join(Supplier, Supplier.id == Lot.supplier_id)


MEMBERS = {
    **of(Lot, "id", "code", "state", "state_since"),
    **of(Plant, "id", "scientific_name", within="plant"),
    "plant.trade_name": Plant.trade_names[0].as_string(),
    **of(Supplier, "id", "name", within="supplier"),
    **of(Lot, "shipment_id", "parent_lot_id", "returned_from_id", "tub_id", "unit_of_sale"),
    **of(Lot, "stems_per_bunch", "untied", "kept_in_wool", "strata", "bag", "supplier_treatment_unknown"),
    **of(Lot, *QUANTITY, within="quantity"),
    **of(Lot, "received_at", "repacked_at", "sealed_since", "opened_at", "cleared_at", "regulated_lock"),
    "holds": Made(holds_shape, (_open_holds(),)),
    **of(Lot, "clock_started_at", "certificate_serial", "good_until", "version"),
}
ALONE = Rows(MEMBERS, _joined)  # what changes by itself with time is left out
LISTED = Rows({**MEMBERS, **of(Lot, *RELEASE)}, _joined)
