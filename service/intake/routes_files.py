"""Addresses of shipments that come as a file."""

from collections.abc import Mapping, Sequence
from dataclasses import replace
from typing import Any

from flask import Response, g

from service.accounts.rules import BENCH
from service.core.errors import Invalid, Problem
from service.core.file_forms import bad_row, csv_body
from service.core.http import allow, answer, created, router, session
from service.core.problems import read_form
from service.core.reasons import Reason
from service.intake import queries
from service.intake.file_schemas import ShipmentPreviewOut, ShipmentsOut
from service.intake.models import Shipment
from service.intake.schemas import ShipmentIn
from service.intake.shipment_files import SHIPMENTS, Consignment, consignments
from service.intake.web import registered
from service.lots.actions import lock_water_group

blueprint = router("shipment files", "Shipments that come as a CSV file.")
Made = list[tuple[Consignment, Shipment]]


@blueprint.route("/shipments/import/preview", methods=["POST"])
@allow(BENCH)
@blueprint.reads(None, "text/csv")
@blueprint.response(200, ShipmentPreviewOut)
def preview_shipments() -> Response:
    """Show the shipments of a CSV file as they would be, and every bad row; nothing is stored."""
    g.rehearsal = True  # the act itself, rolled back: only it knows whether a tub takes the lots
    made, problems = _made()
    shown = [{**queries.shipment_view(session(), one.id), "line": from_.rows[0].line} for from_, one in made]
    return answer({"ok": not problems, "shipments": shown, "problems": [bad_row(each) for each in problems]})


@blueprint.route("/shipments/import", methods=["POST"])
@allow(BENCH)
@blueprint.reads(None, "text/csv")
@blueprint.response(201, ShipmentsOut)
def import_shipments() -> Response:
    """Register every shipment of a CSV file: all of them or nothing."""
    made, problems = _made()
    if problems:
        raise Invalid("validation", "Some lines are wrong; see errors.", problems)
    shown = [queries.shipment_view(session(), one.id) for _, one in made]
    return created({"registered": len(shown), "shipments": shown}, "/shipments")


def _made() -> tuple[Made, list[Reason]]:
    found, problems = consignments(session(), SHIPMENTS.rows(csv_body()))
    wrong = {str(reason.pointer).split("/")[2] for reason in problems}
    tried = [one for one in found if wrong.isdisjoint({str(row.line) for row in one.rows})]
    made: Made = []
    for one, body in _loaded(tried, problems):
        try:
            with session().begin_nested():
                made.append((one, registered(body)))
        except Problem as refusal:
            problems += _told(one, refusal)
    return made, sorted(problems, key=lambda reason: int(str(reason.pointer).split("/")[2]))


def _loaded(
    tried: Sequence[Consignment], problems: list[Reason]
) -> list[tuple[Consignment, Mapping[str, Any]]]:
    found = []
    for one in tried:
        try:
            found.append((one, read_form(ShipmentIn(), one.body)))
        except Problem as refusal:
            problems += _told(one, refusal)
    # Every water at once and in one order, before the first shipment locks the numbering of them all.
    tubs = {tub for _, body in found for tub in queries.tubs_named(body["lines"])}
    since = min([g.now, *(body["received_at"] for _, body in found if body["received_at"])])
    lock_water_group(session(), [], tubs, since=since)
    return found


def _told(one: Consignment, refusal: Problem) -> list[Reason]:
    return [replace(reason, pointer=one.pointer(reason.pointer)) for reason in refusal.reasons]
