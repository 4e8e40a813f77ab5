"""The address of the reorder report."""

from flask import Response, g, request

from service.accounts.rules import READERS
from service.core.http import allow, answer, router, session
from service.core.pages import everything
from service.ordering import queries, schemas

blueprint = router("ordering", "What to order by when.")


@blueprint.route("/reports/reorder")
@allow(READERS)
@blueprint.response(200, schemas.ReorderReport)
def show_reorder() -> Response:
    """Show what to order of each material by when."""
    rows = [queries.reorder_row(shelf, line) for shelf, line in queries.reorder_lines(session(), g.now)]
    if request.accept_mimetypes.best == "text/csv":
        return everything(rows)
    return answer({"rows": rows})
