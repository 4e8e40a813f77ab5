"""The journal takes note of materials that get low, and of treatments that will come short."""

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Any

from sqlalchemy.orm import Session

from service.core.jobs import owe
from service.journal.actions import Note
from service.journal.notices import Finding, note
from service.ordering.queries import LOW, SHORT, reorder_lines, short_treatments
from service.ordering.rules import Reorder
from service.stores.queries import material_by_code

CHECK = "check_reorder"
GATHER = timedelta(minutes=1)  # a round of acts is looked at once


def on_stock_or_need(session: Session, note: Note) -> None:
    """Reaction to lines of the ledger and to treatments that begin or end: owe a look at what is low."""
    owe(session, CHECK, CHECK, note.act.now + GATHER)


def check_reorder(session: Session, payload: Mapping[str, Any], now: datetime) -> None:
    """Job: one entry `stock.low` when a material gets low, once until it recovered.

    And one entry `stock.short_for_course` for a treatment under way that will not get all of its doses.
    """
    lines = reorder_lines(session, now)
    low = [
        Finding(material_by_code(session, line.material_code), line.low, _noted(line)) for _, line in lines
    ]
    note(session, now, {LOW: low})
    short = [
        Finding(treatment, bool(missing), {"missing": missing})
        for treatment, missing in short_treatments(session, [shelf for shelf, _ in lines])
    ]
    note(session, now, {SHORT: short})


def _noted(line: Reorder) -> dict[str, Any]:
    return {
        "material": line.material_code,
        "usable": line.usable,
        "committed": line.committed,
        "reorder_point": line.reorder_point,
        "order_by": line.order_by,
        "packs": line.packs,
    }
