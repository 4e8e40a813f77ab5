"""Addresses of tracing and recalls."""

from collections.abc import Mapping
from typing import Any, cast

from flask import Response, g

from service.accounts.rules import MANAGERS, READERS, STAFF, Role
from service.core.db import Versioned
from service.core.http import BASE, Tagged, allow, answer, caller, etag, match, router, session
from service.core.pages import everything, listed, page, page_of
from service.journal.web import act_from, facts
from service.lots.queries import lot_by_id
from service.recalls import actions, progress, queries, recall_schemas, schemas
from service.recalls.models import Recall

blueprint = router("recalls", "What is within reach of a lot, who got it, and stopping it.")
CONTACT_CUSTOMERS = frozenset({Role.OWNER, Role.MANAGER, Role.SELLER})
KNOW_CUSTOMERS = CONTACT_CUSTOMERS | {Role.AUDITOR}


@blueprint.route("/lots/<id:lot_id>/trace")
@allow(READERS)
@blueprint.arguments(schemas.TraceQuery, location="query")
@blueprint.response(200, schemas.TraceOut)
def trace_lot(asked: Mapping[str, Any], lot_id: str) -> Response:
    """Show the lots, tubs and customers within reach of a lot, each lot with the way that explains it."""
    lot = lot_by_id(session(), lot_id)
    names = caller().role in KNOW_CUSTOMERS
    return answer(queries.traced(session(), lot, asked["direction"], asked["at"], g.now, names=names))


@blueprint.route("/recalls")
@allow(READERS)
@blueprint.arguments(recall_schemas.RecallQuery, location="query")
@blueprint.response(200, page_of(recall_schemas.RecallRowOut))
def list_recalls(asked: Mapping[str, Any]) -> Response:
    """List recalls, the newest first."""
    statement = progress.recalls()
    if asked["state"] is not None:
        closed = Recall.closed_at.is_not(None)
        statement = statement.where(closed if asked["state"] == "closed" else ~closed)
    found = page(session(), statement, [Recall.at, Recall.id], asked, descending=True)
    return listed(found, progress.recall_shape)


@blueprint.route("/recalls", methods=["POST"])
@allow(STAFF)
@blueprint.arguments(recall_schemas.RecallIn)
@blueprint.response(201, recall_schemas.RecallOut)
def start_recall(body: Mapping[str, Any]) -> Response:
    """Stop everything within reach of a lot, a find, a batch of a material or a supplier."""
    act, given = act_from(body), facts(body)
    found = actions.lock_reach(session(), given)
    if isinstance(found.source.thing, Versioned):
        match(cast(Tagged, found.source.thing))
    recall = actions.start_recall(session(), act, found, given["reason"])
    return _recall(recall, 201, f"{BASE}/recalls/{recall.id}")


@blueprint.route("/recalls/<id:recall_id>")
@allow(READERS)
@blueprint.response(200, recall_schemas.RecallOut)
def show_recall(recall_id: str) -> Response:
    """Show a recall: its lots, the customers to tell, and what is still owed."""
    return _recall(progress.recall_by_id(session(), recall_id))


@blueprint.route("/recalls/<id:recall_id>/customers")
@allow(CONTACT_CUSTOMERS)
@blueprint.response(200, page_of(recall_schemas.CustomerOut))
def list_customers(recall_id: str) -> Response:
    """List who must be told and what each got, whole; as CSV to contact them."""
    recall = progress.recall_by_id(session(), recall_id)
    return everything(progress.recall_view(session(), recall, names=True)["customers"])


@blueprint.route("/recalls/<id:recall_id>/notices", methods=["POST"])
@allow(CONTACT_CUSTOMERS)
@blueprint.arguments(recall_schemas.NoticeIn)
@blueprint.response(201, recall_schemas.RecallOut)
def tell_customer(body: Mapping[str, Any], recall_id: str) -> Response:
    """Write that the customer of a dispatch was told."""
    recall = progress.recall_by_id(session(), recall_id, lock=True)
    match(recall)
    actions.tell(session(), act_from(body), recall, **facts(body))
    return _recall(recall, 201)


@blueprint.route("/recalls/<id:recall_id>/closing", methods=["POST"])
@allow(MANAGERS)
@blueprint.arguments(recall_schemas.ClosingIn)
@blueprint.response(200, recall_schemas.RecallOut)
def close_recall(body: Mapping[str, Any], recall_id: str) -> Response:
    """Close a recall once every lot was looked at and every customer told; its holds are lifted."""
    act = act_from(body)
    recall = actions.lock_recall(session(), recall_id)
    match(recall)
    actions.close(session(), act, recall, **facts(body))
    return _recall(recall)


def _recall(recall: Recall, status: int = 200, location: str | None = None) -> Response:
    view = progress.recall_view(session(), recall, names=caller().role in KNOW_CUSTOMERS)
    response = answer(view, status, location=location)
    # Never 304: progress changes with looks and returns, which are not entries about the recall.
    response.set_etag(etag(recall))
    return response
