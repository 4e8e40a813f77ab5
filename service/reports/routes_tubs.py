"""The address of the forecast of tubs."""

from collections.abc import Mapping
from typing import Any

from flask import Response, g

from service.accounts.rules import READERS
from service.core.http import allow, router, session, weighs
from service.core.pace import WEIGHT
from service.core.pages import rows_or_csv
from service.reports.tub_schemas import TubForecast, TubQuery
from service.reports.tubs import tub_forecast

blueprint = router("tub forecast", "Tubs needed against free in the next weeks.")


@blueprint.route("/reports/tubs")
@weighs(WEIGHT)
@allow(READERS)
@blueprint.arguments(TubQuery, location="query")
@blueprint.response(200, TubForecast)
def show_tub_forecast(asked: Mapping[str, Any]) -> Response:
    """Show week by week how many tubs are taken, free, and needed for what is expected."""
    return rows_or_csv(tub_forecast(session(), g.now, asked["weeks"]))
