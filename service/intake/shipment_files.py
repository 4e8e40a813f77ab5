"""Shipments that come as a file: rows that are one shipment, and what they say as its body."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import ColumnElement, select
from sqlalchemy.orm import InstrumentedAttribute, Session

from service.catalogue.models import Plant, Supplier
from service.core.csv_tables import Row, Table
from service.core.reasons import Reason
from service.tubs.models import Tub

OF_ALL = ("supplier", "received_at", "expected_on", "claim_before", "late_reason", "share_water", "note")
PAPER = {"document_kind": ("document", "kind"), "document_number": ("document", "number")}
OF_LINE = (
    "plant",
    "quantity",
    "unit_of_sale",
    "stems_per_bunch",
    "untied",
    "kept_in_wool",
    "bag",
    "supplier_treatment",
    "tub",
)
SHIPMENTS = Table(
    ("shipment", "lines of shipments"),
    {
        "shipment": ("shipment",),
        **{name: (name,) for name in OF_ALL},
        **{name: ("line", name) for name in OF_LINE},
        **PAPER,
    },
    ("supplier", "plant", "quantity", "unit_of_sale"),
    most_rows=500,
    whole=frozenset({"quantity", "stems_per_bunch"}),
    answers=frozenset({"share_water", "untied", "kept_in_wool"}),
)
# What a file names as people do, and what the body calls it.
IDS = {"supplier": "supplier_id", "plant": "plant_id", "tub": "tub_id"}
COLUMNS = {id_: column for column, id_ in IDS.items()}


@dataclass
class Consignment:
    """The rows of a file that are one shipment, with its body."""

    rows: list[Row]
    body: dict[str, Any] = field(default_factory=dict)
    papers: list[Row] = field(default_factory=list)  # the row of each document

    def pointer(self, inside: str | None) -> str:
        """Where in the file a pointer into the body is ("#/lines/0/plant_id": "#/lines/2/plant")."""
        first, *rest = (inside or "#").removeprefix("#").strip("/").split("/")
        row, column, before = self.rows[0], first, ""
        if first in {"lines", "documents"} and rest:
            of_paper = first == "documents"
            row = (self.papers if of_paper else self.rows)[int(rest[0])]
            column, before = (rest[1] if len(rest) > 1 else ""), ("document_" if of_paper else "")
        name = COLUMNS.get(column, column)
        return f"#/lines/{row.line}/{before}{name}" if name else f"#/lines/{row.line}"


def consignments(session: Session, rows: Sequence[Row]) -> tuple[list[Consignment], list[Reason]]:
    """The shipments of a file in the order of their first rows, and what is wrong before any is tried.

    Rows with the same `shipment` are one; without that column the file is one shipment.
    """
    names = _names(session, rows)
    groups: dict[str, list[Row]] = {}
    problems: list[Reason] = []
    for row in rows:
        if row.wrong is not None:
            problems.append(Reason("validation", row.wrong, pointer=f"#/lines/{row.line}"))
        else:
            groups.setdefault(str(row.body.get("shipment", "")), []).append(row)
    found = [Consignment(group) for group in groups.values()]
    for one in found:
        problems += [*_unknown(one, names), *_at_odds(one)]
        one.body = _body(one, names)
    return found, problems


def _names(session: Session, rows: Sequence[Row]) -> dict[str, dict[str, str]]:
    columns: tuple[tuple[str, InstrumentedAttribute[str], ColumnElement[str]], ...] = (
        ("supplier", Supplier.name, Supplier.__table__.c.id),
        ("plant", Plant.code, Plant.__table__.c.id),
        ("tub", Tub.code, Tub.__table__.c.id),
    )
    found = {}
    for column, called, id_ in columns:
        said = {_said(row, column) for row in rows} - {None}
        found[column] = dict(
            (name, key) for name, key in session.execute(select(called, id_).where(called.in_(said))).all()
        )
    return found


def _said(row: Row, column: str) -> Any:
    inside: Mapping[str, Any] = row.body.get("line", {}) if column in OF_LINE else row.body
    return inside.get(column)


def _unknown(one: Consignment, names: Mapping[str, Mapping[str, str]]) -> list[Reason]:
    return [
        Reason(f"unknown-{column}", f"There is no {column} {said}.", pointer=f"#/lines/{row.line}/{column}")
        for row in one.rows
        for column in IDS
        if (said := _said(row, column)) is not None and said not in names[column]
    ]


def _at_odds(one: Consignment) -> list[Reason]:
    detail = "All lines of one shipment say the same here, or nothing."
    return [
        Reason("validation", detail, pointer=f"#/lines/{row.line}/{column}")
        for column in OF_ALL
        for row in one.rows
        if (said := _said(row, column)) is not None and said != _first(one, column)
    ]


def _first(one: Consignment, column: str) -> Any:
    return next((said for row in one.rows if (said := _said(row, column)) is not None), None)


def _body(one: Consignment, names: Mapping[str, Mapping[str, str]]) -> dict[str, Any]:
    shared = {name: said for name in OF_ALL if (said := _first(one, name)) is not None}
    documents: list[Any] = []
    for row in one.rows:
        paper = row.body.get("document")
        if paper is not None and paper not in documents:
            documents.append(paper)
            one.papers.append(row)
    lines = [_named(row.body.get("line", {}), names) for row in one.rows]
    return {**_named(shared, names), "documents": documents, "lines": lines}


def _named(said: Mapping[str, Any], names: Mapping[str, Mapping[str, str]]) -> dict[str, Any]:
    return {
        IDS.get(name, name): names[name].get(value) if name in IDS else value for name, value in said.items()
    }
