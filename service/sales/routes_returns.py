"""The address of what comes back."""

from collections.abc import Mapping
from typing import Any

from flask import Response

from service.accounts.rules import BENCH
from service.core.http import allow, created, router, session
from service.journal.web import act_from, facts
from service.lots.queries import lot_view
from service.sales import return_schemas, returns

blueprint = router("returns", "What customers send back: new lots, never back on the shelf.")


@blueprint.route("/returns", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(return_schemas.ReturnIn)
@blueprint.response(201, return_schemas.ReturnOut)
def take_back(body: Mapping[str, Any]) -> Response:
    """Receive what came back of a dispatch: each line becomes a lot that begins anew."""
    lots = returns.take_back(session(), act_from(body), facts(body))
    shown = [lot_view(session(), lot.id) for lot in lots]
    return created({"dispatch_id": body["dispatch_id"], "lots": shown}, f"/lots/{lots[0].id}")
