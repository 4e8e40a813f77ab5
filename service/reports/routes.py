"""The address of the consumption report."""

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
from service.reports import schemas
from service.reports.consumption import consumption
from service.reports.spans import Span

DEFAULT_DAYS = 30
blueprint = router("reports", "What was used, its cost, and what was poured away.")


@blueprint.route("/reports/consumption")
@weighs(WEIGHT)
@allow(READERS)
@blueprint.arguments(schemas.ConsumptionQuery, location="query")
@blueprint.response(200, schemas.ConsumptionReport)
def show_consumption(asked: Mapping[str, Any]) -> Response:
    """Show what was used between two days, by what is asked."""
    until = asked["until"] or local_day(g.now, house(session()).time_zone)
    since = asked["since"] or until - timedelta(days=DEFAULT_DAYS - 1)
    if since > until:
        raise Invalid.at("#/query/from", "from must not be after to.", code="wrong-day")
    rows = consumption(session(), Span(since, until), asked["by"])
    return rows_or_csv(rows, **{"from": since, "to": until, "by": asked["by"]})
