"""Addresses of tracing."""

from collections.abc import Mapping
from typing import Any

from flask import Response, g

from service.accounts.rules import READERS, Role
from service.core.http import allow, answer, caller, router, session
from service.lots.queries import lot_by_id
from service.recalls import queries, schemas

blueprint = router("recalls", "What is within reach of a lot, and who got it.")
KNOW_CUSTOMERS = frozenset({Role.OWNER, Role.MANAGER, Role.SELLER, Role.AUDITOR})


@blueprint.route("/lots/<id:lot_id>/trace")
@allow(READERS)
@blueprint.arguments(schemas.TraceQuery, location="query")
@blueprint.response(200, schemas.TraceOut)
def trace_lot(asked: Mapping[str, Any], lot_id: str) -> Response:
    """Show the lots, tubs and customers within reach of a lot, each lot with the way that explains it."""
    lot = lot_by_id(session(), lot_id)
    names = caller().role in KNOW_CUSTOMERS
    return answer(queries.traced(session(), lot, asked["direction"], asked["at"], g.now, names=names))
