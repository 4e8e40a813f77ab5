"""Addresses of intake: shipments, expected or received."""

from collections.abc import Mapping
from typing import Any

from flask import Response

from service.accounts.rules import BENCH, READERS
from service.core.http import allow, answer, connection, created, match, router, session
from service.core.pages import listed, page_of, read_page
from service.intake import actions, photographing, queries, schemas
from service.intake.web import registered
from service.journal.web import act_from
from service.photos.schemas import VoidPhotoIn

blueprint = router("intake", "Shipments: how lots come in.")


@blueprint.route("/shipments")
@allow(READERS)
@blueprint.arguments(schemas.ShipmentQuery, location="query")
@blueprint.response(200, page_of(schemas.ShipmentOut))
def list_shipments(asked: Mapping[str, Any]) -> Response:
    """List shipments in the order they were registered."""
    return listed(read_page(connection(), queries.SHIPMENTS, asked, queries.shipments_asked(asked)))


@blueprint.route("/shipments", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.ShipmentIn)
@blueprint.response(201, schemas.ShipmentDetailOut)
def add_shipment(body: Mapping[str, Any]) -> Response:
    """Register a shipment: received with its lots, or expected and received later."""
    shipment = registered(body)
    shown = queries.shipment_view(session(), shipment.id)
    return created(shown, f"/shipments/{shipment.id}", shipment)


@blueprint.route("/shipments/<id:shipment_id>")
@allow(READERS)
@blueprint.response(200, schemas.ShipmentDetailOut)
def show_shipment(shipment_id: str) -> Response:
    """Show a shipment with its lines and lots."""
    shipment = queries.shipment_by_id(session(), shipment_id)
    return answer(queries.shipment_view(session(), shipment_id), thing=shipment)


@blueprint.route("/shipments/<id:shipment_id>/receipt", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.ReceiptIn)
@blueprint.response(200, schemas.ShipmentDetailOut)
def receive_shipment(body: Mapping[str, Any], shipment_id: str) -> Response:
    """Take an expected shipment in: its lots are made from what was counted."""
    shipment = queries.shipment_by_id(session(), shipment_id, lock=True)
    match(shipment)
    actions.take_in(session(), act_from(body), shipment, body["lines"], share_water=body["share_water"])
    return answer(queries.shipment_view(session(), shipment.id), thing=shipment)


@blueprint.route("/shipments/<id:shipment_id>/photos", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.ShipmentPhotosIn)
@blueprint.response(200, schemas.ShipmentDetailOut)
def photograph_shipment(body: Mapping[str, Any], shipment_id: str) -> Response:
    """Add photos that were sent, or a supplier's papers as photo or PDF, to a shipment."""
    shipment = queries.shipment_by_id(session(), shipment_id, lock=True)
    photographing.add_to_shipment(session(), act_from(body), shipment, body["photos"])
    return answer(queries.shipment_view(session(), shipment.id), thing=shipment)


@blueprint.route("/shipments/<id:shipment_id>/photos/<sha256>/void", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(VoidPhotoIn)
@blueprint.response(200, schemas.ShipmentDetailOut)
def void_photo(body: Mapping[str, Any], shipment_id: str, sha256: str) -> Response:
    """Void a photo or paper of a shipment that is wrong, with the reason: it is hidden, not removed."""
    told = {**body, "sha256": sha256}
    shipment = photographing.void_photo_of_shipment(session(), act_from({}), shipment_id, told)
    return answer(queries.shipment_view(session(), shipment.id), thing=shipment)
