"""The address of due work."""

from collections.abc import Mapping
from typing import Any

from flask import Response, g

from service.accounts.rules import READERS
from service.agenda import queries
from service.agenda.rules import Kind
from service.agenda.schemas import DueQuery, DueWorkOut
from service.core.http import allow, router, session
from service.core.pages import everything, page_of

blueprint = router("agenda", "What to do now.")


@blueprint.route("/due-work")
@allow(READERS)
@blueprint.arguments(DueQuery, location="query")
@blueprint.response(200, page_of(DueWorkOut))
def list_due_work(asked: Mapping[str, Any]) -> Response:
    """List what a person must do and by when, the earliest first."""
    kinds = [asked["kind"]] if asked["kind"] else list(Kind)
    found = queries.due_work(session(), g.now, until=asked["until"], kinds=kinds)
    return everything(found[: asked["limit"]])
