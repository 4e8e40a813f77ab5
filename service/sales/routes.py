"""Addresses of sales."""

from collections.abc import Mapping
from typing import Any

from flask import Response, g

from service.accounts.rules import EVERYONE, MANAGERS, SALES, Role
from service.clearance.queries import certificate_shape
from service.core.http import allow, caller, created, match, router, session, settings
from service.core.pages import body_or_csv, listed, page, page_of
from service.journal.web import ActForm, act_from, facts
from service.sales import actions, inventory, parcels, queries, schemas
from service.sales.customers import keyed
from service.sales.inventory import Place
from service.sales.models import Dispatch
from service.sales.whose import dispatches_of

SELLERS = SALES - {Role.SHOP}

blueprint = router("sales", "What may be sold, and what left.")


@blueprint.route("/inventory")
@allow(EVERYONE)
@blueprint.arguments(schemas.InventoryQuery, location="query")
@blueprint.response(200, schemas.InventoryOut)
def show_inventory(asked: Mapping[str, Any]) -> Response:
    """Show what may be sold, per plant and unit, and what is released next; or what changed since a place."""
    reached = inventory.place(session(), g.now)  # before the rows: what comes in between is told again
    chosen = {"plant": asked["plant"], "sku": asked["sku"]}
    if asked["after"] is None:
        rows = inventory.inventory(session(), g.now, **chosen)
    else:
        after = Place.read(*asked["after"].split("-"))
        rows = inventory.changed(session(), g.now, after, **chosen)
    return body_or_csv({"after": str(reached), "rows": rows}, [inventory.flat_row(row) for row in rows])


@blueprint.route("/dispatches")
@allow(SALES | {Role.AUDITOR})
@blueprint.arguments(schemas.DispatchQuery, location="query")
@blueprint.response(200, page_of(schemas.DispatchOut))
def list_dispatches(asked: Mapping[str, Any]) -> Response:
    """List what left; a shop sees what it sent and what was sent of its promises."""
    statement = queries.dispatches()
    if caller().role == Role.SHOP:
        statement = statement.where(Dispatch.id.in_(dispatches_of(caller().name)))
    if asked["order_ref"]:
        statement = statement.where(Dispatch.order_ref == asked["order_ref"])
    found = page(session(), statement, [Dispatch.at, Dispatch.id], asked)
    views = queries.dispatch_views(session(), found.rows)
    return listed(found, lambda row: views[row[0]])


@blueprint.route("/dispatches", methods=["POST"])
@allow(SALES)
@blueprint.arguments(schemas.DispatchIn)
@blueprint.response(201, schemas.DispatchOut)
def dispatch(body: Mapping[str, Any]) -> Response:
    """Send units of cleared lots to one order, all lines or none."""
    sent = actions.dispatch(session(), act_from(body), facts(body), keyed)
    return created(queries.dispatch_view(session(), sent), f"/dispatches/{sent.id}", sent)


@blueprint.route("/dispatches/<id:dispatch_id>/reversal", methods=["POST"])
@allow(MANAGERS)
@blueprint.arguments(schemas.ReversalIn)
@blueprint.response(201, schemas.DispatchOut)
def reverse(body: Mapping[str, Any], dispatch_id: str) -> Response:
    """Take back a dispatch that was entered by mistake."""
    sent = actions.dispatch_for_change(session(), dispatch_id)
    match(sent)
    actions.reverse(session(), act_from(body), sent, **facts(body))
    return created(queries.dispatch_view(session(), sent), f"/dispatches/{sent.id}", sent)


@blueprint.route("/dispatches/<id:dispatch_id>/certificates")
@allow(SELLERS | {Role.AUDITOR})
@blueprint.response(200, schemas.ParcelsOut)
def list_certificates_of_parcel(dispatch_id: str) -> Response:
    """List the certificates that a parcel has of its own."""
    sent = queries.dispatch_by_id(session(), dispatch_id)
    return body_or_csv(_parcel_certificates(sent), _parcel_certificates(sent)["items"])


@blueprint.route("/dispatches/<id:dispatch_id>/certificates", methods=["POST"])
@allow(SELLERS)
@blueprint.arguments(ActForm)
@blueprint.response(201, schemas.ParcelsOut)
def certify_parcel(body: Mapping[str, Any], dispatch_id: str) -> Response:
    """Issue a certificate for what the parcel has of each lot; one that stands already stays."""
    sent = actions.dispatch_for_change(session(), dispatch_id)
    match(sent)
    parcels.certify(session(), act_from(body), sent)
    return created(_parcel_certificates(sent), f"/dispatches/{sent.id}/certificates", sent)


def _parcel_certificates(sent: Dispatch) -> dict[str, Any]:
    rows = session().execute(queries.parcel_certificates(sent.id)).all()
    return {"items": [certificate_shape(row, g.now, settings().public_url) for row in rows]}
