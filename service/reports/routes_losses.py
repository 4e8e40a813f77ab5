"""The address of the report of losses."""

from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from flask import Response, g

from service.accounts.rules import READERS
from service.core.clock import local_day
from service.core.errors import Invalid
from service.core.house import house
from service.core.http import allow, router, session, weighs
from service.core.pace import WEIGHT
from service.core.pages import rows_or_csv
from service.reports.loss_schemas import LossQuery, LossReport
from service.reports.losses import losses
from service.reports.spans import Span

DEFAULT_DAYS = 365
blueprint = router("losses", "What left stock unused: shrinkage and disposals.")


@blueprint.route("/reports/losses")
@weighs(WEIGHT)
@allow(READERS)
@blueprint.arguments(LossQuery, location="query")
@blueprint.response(200, LossReport)
def show_losses(asked: Mapping[str, Any]) -> Response:
    """Show what counts missed or found more, and what was disposed of how, by material and month."""
    until = asked["until"] or local_day(g.now, house(session()).time_zone)
    since = asked["since"] or until - timedelta(days=DEFAULT_DAYS - 1)
    if since > until:
        raise Invalid.at("#/query/from", "from must not be after to.", code="wrong-day")
    rows = losses(session(), Span(since, until), asked["material"])
    return rows_or_csv(rows, **{"from": since, "to": until})
