"""How shipments and their lots are named, and what a line must say."""

from collections.abc import Mapping, Sequence
from datetime import date
from enum import StrEnum
from typing import Any

from service.core.reasons import Reason

UNKNOWN = "unknown"


class DocumentKind(StrEnum):
    """What a supplier's paper is; evidence only."""

    PLANT_PASSPORT = "plant_passport"
    PHYTOSANITARY_CERTIFICATE = "phytosanitary_certificate"
    INVOICE = "invoice"
    OTHER = "other"


def code_prefix(day: date) -> str:
    """How the codes of the shipments of a year start: "26-"."""
    return f"{day:%y}-"


def shipment_code(day: date, number: int) -> str:
    """The code of the year's shipment `number`: "26-031"."""
    return f"{code_prefix(day)}{number:03d}"


def lot_code(shipment: str, line: int) -> str:
    """The code of the lot of a line: "26-031-02"."""
    return f"{shipment}-{line:02d}"


def treatment_unknown(told: str | None) -> bool:
    """True when something may cling: nobody knows what the supplier treated with, or it was copper.

    A supplier whom nobody asked is no evidence either way; the statement says so.
    """
    return told is not None and (told.strip().lower() == UNKNOWN or "copper" in told.lower())


def line_reasons(lines: Sequence[Mapping[str, Any]]) -> list[Reason]:
    """What is wrong with the lines of a shipment, each with its pointer: only bunches have stems."""
    return [
        Reason("validation", "Only bunches have stems and can be untied.", pointer=f"#/lines/{n}/{name}")
        for n, line in enumerate(lines)
        for name in ("stems_per_bunch", "untied")
        if line["unit_of_sale"] != "bunch" and line[name]
    ]


def counted(
    ordered: Mapping[int, int], counts: Sequence[Mapping[str, Any]]
) -> tuple[dict[int, int], list[Reason]]:
    """The units of each line as counted at receipt, and what is wrong with the counts.

    `ordered` gives the units by line number; a line without a count came as ordered.
    """
    found, reasons, seen = dict(ordered), [], set()
    for place, count in enumerate(counts):
        if count["n"] not in ordered or count["n"] in seen:
            detail = "This line is counted twice." if count["n"] in seen else "The shipment has no such line."
            reasons.append(Reason("validation", detail, pointer=f"#/lines/{place}/n"))
        seen.add(count["n"])
        found[count["n"]] = count["quantity"]
    return found, reasons
