"""The addresses of the reorder report and of the days ahead."""

from collections.abc import Mapping
from typing import Any

from flask import Response, g

from service.accounts.rules import READERS
from service.core.clock import local_day
from service.core.house import house
from service.core.http import allow, router, session, weighs
from service.core.pace import WEIGHT
from service.core.pages import rows_or_csv
from service.ordering import queries, schemas, shapes
from service.stores.queries import material_by_code

blueprint = router("ordering", "What to order by when.")


@blueprint.route("/reports/reorder")
@weighs(WEIGHT)
@allow(READERS)
@blueprint.response(200, schemas.ReorderReport)
def show_reorder() -> Response:
    """Show what to order of each material by when."""
    return rows_or_csv([shapes.reorder_row(*line) for line in queries.reorder_lines(session(), g.now)])


@blueprint.route("/reports/projection")
@weighs(WEIGHT)
@allow(READERS)
@blueprint.arguments(schemas.ProjectionQuery, location="query")
@blueprint.response(200, schemas.Projection)
def show_projection(asked: Mapping[str, Any]) -> Response:
    """Show the stock of a material, or of all, day by day if nothing is ordered."""
    code, today = asked["material"], local_day(g.now, house(session()).time_zone)
    if code is not None:
        material_by_code(session(), code)
    shelves = [shelf for shelf in queries.shelves(session(), g.now) if code in {None, shelf.material_code}]
    return rows_or_csv(
        [row for shelf in shelves for row in shapes.projection_rows(shelf, today, asked["days"])]
    )
