"""Addresses of tracing, recalls and complaints."""

from collections.abc import Mapping
from typing import Any, cast

from flask import Response, g

from service.accounts.rules import MANAGERS, READERS, STAFF, Role
from service.catalogue.queries import supplier_by_id
from service.core.db import Versioned
from service.core.http import BASE, Tagged, allow, answer, caller, etag, match, router, session
from service.core.pages import everything, listed, page, page_of
from service.journal.web import ActForm, act_from, facts
from service.lots.queries import lot_by_id
from service.recalls import (
    actions,
    complaint_schemas,
    complaints,
    progress,
    queries,
    recall_schemas,
    retracing,
    schemas,
    supplier_schemas,
    suppliers,
)
from service.recalls.models import Complaint, Recall

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
    """Stop everything within reach of a lot, a find, a complaint, a batch of a material or a supplier."""
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
    return everything(progress.customer_views(session(), recall, names=True))


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


@blueprint.route("/recalls/<id:recall_id>/extension", methods=["POST"])
@allow(STAFF)
@blueprint.arguments(ActForm)
@blueprint.response(200, recall_schemas.RecallOut)
def extend_recall(body: Mapping[str, Any], recall_id: str) -> Response:
    """Take in what facts entered since the recall have brought within reach."""
    act = act_from(body)
    found = actions.lock_reach(session(), actions.same_source(progress.recall_by_id(session(), recall_id)))
    recall = progress.recall_by_id(session(), recall_id, lock=True)
    match(recall)
    actions.extend(session(), act, recall, found)
    return _recall(recall)


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
    newly = retracing.newly_within_reach(session(), recall)
    view = progress.recall_view(session(), recall, newly, names=caller().role in KNOW_CUSTOMERS)
    response = answer(view, status, location=location)
    # Never 304: progress changes with looks and returns, which are not entries about the recall.
    response.set_etag(etag(recall))
    return response


@blueprint.route("/suppliers/<id:supplier_id>/record")
@allow(READERS)
@blueprint.response(200, supplier_schemas.SupplierRecordOut)
def show_supplier_record(supplier_id: str) -> Response:
    """Show how a supplier's last ten lots came, what escaped in them, and whether that warns at ordering."""
    supplier = supplier_by_id(session(), supplier_id)
    return answer(suppliers.supplier_record(session(), supplier, g.now))


@blueprint.route("/complaints")
@allow(READERS)
@blueprint.arguments(complaint_schemas.ComplaintQuery, location="query")
@blueprint.response(200, page_of(complaint_schemas.ComplaintRowOut))
def list_complaints(asked: Mapping[str, Any]) -> Response:
    """List complaints, the newest first."""
    statement = complaints.complaints(judged=asked["judged"], lot=asked["lot"])
    found = page(session(), statement, [Complaint.at, Complaint.id], asked, descending=True)
    return listed(found, complaints.complaint_shape)


@blueprint.route("/complaints", methods=["POST"])
@allow(STAFF)
@blueprint.arguments(complaint_schemas.ComplaintIn)
@blueprint.response(201, complaint_schemas.ComplaintOut)
def complain(body: Mapping[str, Any]) -> Response:
    """Record what a customer found: what is left is held and owes a look, a trace is started."""
    complaint = complaints.complain(session(), act_from(body), facts(body))
    return _complaint(complaint, 201, f"{BASE}/complaints/{complaint.id}")


@blueprint.route("/complaints/<id:complaint_id>")
@allow(READERS)
@blueprint.response(200, complaint_schemas.ComplaintOut)
def show_complaint(complaint_id: str) -> Response:
    """Show a complaint with its trace as of now."""
    return _complaint(complaints.complaint_by_id(session(), complaint_id))


@blueprint.route("/complaints/<id:complaint_id>/verdict", methods=["POST"])
@allow(MANAGERS)
@blueprint.arguments(complaint_schemas.VerdictIn)
@blueprint.response(200, complaint_schemas.ComplaintOut)
def judge_complaint(body: Mapping[str, Any], complaint_id: str) -> Response:
    """Say whose pest it was; "not ours" lifts the holds, "ours" may be followed by a recall."""
    act = act_from(body)
    complaint = complaints.lock_complaint(session(), complaint_id)
    match(complaint)
    complaints.judge(session(), act, complaint, **facts(body))
    return _complaint(complaint)


def _complaint(complaint: Complaint, status: int = 200, location: str | None = None) -> Response:
    view = complaints.complaint_view(session(), complaint, names=caller().role in KNOW_CUSTOMERS)
    response = answer(view, status, location=location)
    response.set_etag(etag(complaint))  # never 304: the trace and looks change without it
    return response
