"""Addresses of inspections: looks, and the plan of how many units to look at."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from flask import Response

from service.accounts.rules import BENCH, READERS
from service.core.http import allow, answer, caller, created, router, session, weighs
from service.core.pace import WEIGHT
from service.core.pages import listed, page, page_of
from service.inspections import actions, photographing, queries, rules, schemas, voiding
from service.inspections.models import Inspection
from service.inspections.shapes import inspection_shape, inspection_view
from service.journal.web import act_from, facts
from service.photos.queries import photos_of
from service.photos.schemas import PhotosIn, VoidPhotoIn
from service.science.sampling import FORMULA, SOURCE, sampling_plan

blueprint = router("inspections", "Looks at lots and tubs, and what they found.")


@blueprint.route("/inspections")
@allow(READERS)
@blueprint.arguments(schemas.InspectionQuery, location="query")
@blueprint.response(200, page_of(schemas.InspectionOut))
def list_inspections(asked: Mapping[str, Any]) -> Response:
    """List looks, voided ones too, in the order they were made."""
    statement = queries.inspections(lot=asked["lot"], tub=asked["tub"])
    found = page(session(), statement, [Inspection.at, Inspection.id], asked)
    ids = [row[0] for row in found.rows]
    findings, photos = queries.findings_of(session(), ids), photos_of(session(), ids)
    return listed(found, lambda row: inspection_shape(row, findings, photos))


@blueprint.route("/inspections", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.InspectionIn)
@blueprint.response(201, schemas.InspectionOut)
def add_inspection(body: Mapping[str, Any]) -> Response:
    """Enter a look at a lot or a tub, and what it found."""
    known = {**facts(body), "inspector": body["inspector"] or caller().name}
    inspection = actions.record_look(session(), act_from(body), known)
    return created(_view(inspection), f"/inspections/{inspection.id}")


@blueprint.route("/inspections/<id:inspection_id>")
@allow(READERS)
@blueprint.response(200, schemas.InspectionOut)
def show_inspection(inspection_id: str) -> Response:
    """Show a look."""
    inspection = queries.inspection_by_id(session(), inspection_id)
    return answer(_view(inspection))


@blueprint.route("/inspections/<id:inspection_id>/photos", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(PhotosIn)
@blueprint.response(200, schemas.InspectionOut)
def photograph_inspection(body: Mapping[str, Any], inspection_id: str) -> Response:
    """Add photos that were sent to a look that was made."""
    act = act_from(body)
    return answer(_view(photographing.add_to_look(session(), act, inspection_id, body["photos"])))


@blueprint.route("/inspections/<id:inspection_id>/photos/<sha256>/void", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(VoidPhotoIn)
@blueprint.response(200, schemas.InspectionOut)
def void_photo(body: Mapping[str, Any], inspection_id: str, sha256: str) -> Response:
    """Void a photo of a look that is wrong, with the reason: it is hidden, not removed."""
    told = {**body, "sha256": sha256}
    return answer(_view(photographing.void_photo_of_look(session(), act_from({}), inspection_id, told)))


@blueprint.route("/inspections/<id:inspection_id>/void", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.VoidLookIn)
@blueprint.response(200, schemas.InspectionOut)
def void_inspection(body: Mapping[str, Any], inspection_id: str) -> Response:
    """Void a look that was wrong, with the reason."""
    inspection = voiding.void_look(session(), act_from({}), inspection_id, body["reason"])
    return answer(_view(inspection))


@blueprint.route("/sampling-plan")
@weighs(WEIGHT)
@allow(READERS)
@blueprint.arguments(schemas.PlanQuery, location="query")
@blueprint.response(200, schemas.PlanOut)
def show_sampling_plan(asked: Mapping[str, Any]) -> Response:
    """Compute how many units of a lot to look at; nothing is stored."""
    plan = asdict(sampling_plan(**asked))
    figures = {name: float(plan[name]) for name in ("detection_level", "confidence")}
    spent = rules.minutes(plan["sample_size"], plan["looks_needed"])
    return answer({**plan, **figures, "minutes": spent, "formula": FORMULA, "source": SOURCE})


def _view(inspection: Inspection) -> dict[str, Any]:
    ids = [inspection.id]
    return inspection_view(inspection, queries.findings_of(session(), ids), photos_of(session(), ids))
