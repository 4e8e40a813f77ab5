"""How a lot is answered: the exact columns, read in one statement, and the dictionary made of them."""

from collections.abc import Sequence
from datetime import UTC, datetime
from operator import itemgetter
from typing import Any
from uuid import UUID

from sqlalchemy import JSON, ScalarSelect, Select, literal_column, select
from sqlalchemy.ext.compiler import compiles
from sqlalchemy.sql.compiler import SQLCompiler
from sqlalchemy.sql.functions import FunctionElement

from service.catalogue.models import Plant, Supplier
from service.lots.models import Hold, Lot

PLAIN = (
    "id",
    "code",
    "state",
    "state_since",
    "shipment_id",
    "parent_lot_id",
    "returned_from_id",
    "tub_id",
    "unit_of_sale",
    "stems_per_bunch",
    "untied",
    "kept_in_wool",
    "strata",
    "bag",
    "supplier_treatment_unknown",
    "received_at",
    "repacked_at",
    "sealed_since",
    "opened_at",
    "cleared_at",
    "regulated_lock",
    "clock_started_at",
    "certificate_serial",
    "good_until",
    "version",
)
QUANTITY = ("received", "gained", "left", "reserved", "sold", "lost", "split_off", "disposed")
RELEASE = ("release_day", "release_day_computed_at", "release_day_stale")
JOINED = ("plant_id", "scientific_name", "trade_names", "supplier_id", "supplier_name", "holds")
NAMES = PLAIN + QUANTITY + RELEASE + JOINED


class _JsonRows(FunctionElement[Any]):
    """The rows of a subquery as one JSON list of objects; arguments are names and columns in turn."""

    name = "json_rows"
    inherit_cache = True
    type = JSON()


@compiles(_JsonRows)
def _json_rows(element: _JsonRows, compiler: SQLCompiler, **kw: Any) -> str:
    return f"json_agg(json_build_object({compiler.process(element.clauses, **kw)}))"


@compiles(_JsonRows, "sqlite")
def _json_rows_sqlite(element: _JsonRows, compiler: SQLCompiler, **kw: Any) -> str:
    return f"json_group_array(json_object({compiler.process(element.clauses, **kw)}))"


def lot_rows() -> Select[Any]:
    """Every lot with its plant, supplier and open holds, in the columns of `lot_shape`."""
    return (
        select(
            *(getattr(Lot, name) for name in PLAIN + QUANTITY + RELEASE),
            Plant.id,
            Plant.scientific_name,
            Plant.trade_names,
            Supplier.id,
            Supplier.name,
            _open_holds(),
        )
        .join(Plant, Plant.id == Lot.plant_id)
        .join(Supplier, Supplier.id == Lot.supplier_id)
    )


def listed_lot(row: Sequence[Any]) -> dict[str, Any]:
    """A lot as answered in lists, with its projected release day and the age of that."""
    return lot_shape(row) | {name: row[NAMES.index(name)] for name in RELEASE}


def lot_shape(row: Sequence[Any]) -> dict[str, Any]:
    """One lot as answered; what changes by itself with time is left out."""
    found = dict(zip(NAMES, row, strict=True))
    names = found["trade_names"]
    return {name: found[name] for name in PLAIN} | {
        "plant": {
            "id": found["plant_id"],
            "scientific_name": found["scientific_name"],
            "trade_name": names[0] if names else None,
        },
        "supplier": {"id": found["supplier_id"], "name": found["supplier_name"]},
        "quantity": {name: found[name] for name in QUANTITY},
        "holds": sorted(map(_hold, found["holds"] or ()), key=itemgetter("since", "id")),
    }


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


def _hold(row: dict[str, Any]) -> dict[str, Any]:
    # Inside JSON each database writes ids and moments in its own way.
    since = datetime.fromisoformat(row["since"])
    aware = since.replace(tzinfo=UTC) if since.tzinfo is None else since.astimezone(UTC)
    return {"id": str(UUID(row["id"])), "cause": row["cause"], "since": aware}
