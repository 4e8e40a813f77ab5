"""Addresses of plants that come as a file."""

from functools import partial

from flask import Response, g

from service.accounts.rules import MANAGERS
from service.catalogue import plant_files
from service.catalogue.file_schemas import PlantPreviewOut, PlantRowOut, PlantsAddedOut
from service.catalogue.queries import PLANT
from service.catalogue.schemas import PlantIn
from service.core.file_forms import bad_row, csv_body
from service.core.http import allow, answer, created, router, session
from service.core.problems import read_form
from service.journal.web import act_from

blueprint = router("plant files", "Plants that come as a CSV file.")
SHOWN = tuple(name for name in PlantRowOut().fields if name != "line")


@blueprint.route("/plants/import/preview", methods=["POST"])
@allow(MANAGERS)
@blueprint.reads(None, "text/csv")
@blueprint.response(200, PlantPreviewOut)
def preview_plants() -> Response:
    """Show each row of a CSV file as the plant it would be, and every bad row; nothing is stored."""
    g.computes = True  # a reading session: no write lock is taken
    judged = _judged()
    rows = [{"line": line, **{name: plant[name] for name in SHOWN}} for line, plant in judged.plants]
    problems = [bad_row(reason) for reason in judged.problems]
    return answer({"ok": not problems, "rows": rows, "problems": problems})


@blueprint.route("/plants/import", methods=["POST"])
@allow(MANAGERS)
@blueprint.reads(None, "text/csv")
@blueprint.response(201, PlantsAddedOut)
def import_plants() -> Response:
    """Add every plant of a CSV file: all of them or nothing."""
    added = plant_files.add_plants(session(), act_from({}), _judged())
    shown = [{name: getattr(plant, name) for name in PLANT} for plant in added]
    return created({"added": len(shown), "plants": shown}, "/plants")


def _judged() -> plant_files.Judged:
    return plant_files.judge(session(), plant_files.PLANTS.rows(csv_body()), partial(read_form, PlantIn()))
