"""The address of the report of outcomes."""

from collections.abc import Mapping
from dataclasses import asdict
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
from service.reports.outcome_schemas import OutcomeQuery, OutcomeReport
from service.reports.outcomes import report
from service.reports.priors import priors
from service.reports.rules_outcomes import Outcome, OutcomesBy

DEFAULT_DAYS = 365
blueprint = router("outcomes", "What became of ordinary lots: which treatment works here.")


@blueprint.route("/reports/outcomes")
@weighs(WEIGHT)
@allow(READERS)
@blueprint.arguments(OutcomeQuery, location="query")
@blueprint.response(200, OutcomeReport)
def show_outcomes(asked: Mapping[str, Any]) -> Response:
    """Show live finds after treatment, days to release, losses and cost of the lots received in a time."""
    until = asked["until"] or local_day(g.now, house(session()).time_zone)
    since = asked["since"] or until - timedelta(days=DEFAULT_DAYS - 1)
    if since > until:
        raise Invalid.at("#/query/from", "from must not be after to.", code="wrong-day")
    rows = [_row(one) for one in report(session(), since, until, asked["by"])]
    if asked["by"] is OutcomesBy.SUPPLIER:
        found = priors(session(), [row["key"] for row in rows], g.now)
        rows = [{**row, "freedom_prior": found[row["key"]]} for row in rows]
    return rows_or_csv(rows, **{"from": since, "to": until, "by": asked["by"].value})


def _row(one: Outcome) -> dict[str, Any]:
    cost = one.cost_per_cleared_unit
    limits = None if one.cost_limits is None else asdict(one.cost_limits)
    return {
        "key": one.key,
        "lots": one.lots,
        "live_after": asdict(one.live_after),
        "not_looked_at": one.not_looked_at,
        "infested_on_arrival": asdict(one.infested_on_arrival),
        "days_to_release": {
            "n": one.released,
            "median": one.median_days,
            "limits": None if one.days_to_release is None else asdict(one.days_to_release),
        },
        "units": {
            "n": one.units,
            "lost": dict(one.lost),
            "share": None if one.lost_share is None else asdict(one.lost_share),
        },
        "cost_per_cleared_unit": None
        if cost is None
        else {"value": round(cost, 4), "currency": one.currency, "limits": limits},
    }
