"""Addresses of reservations."""

from collections.abc import Mapping
from typing import Any

from flask import Response

from service.accounts.rules import SALES, Role
from service.core.http import allow, answer, caller, created, match, router, session
from service.core.pages import listed, page, page_of
from service.journal.web import EmptyForm, act_from, facts
from service.sales import reservation_queries as queries
from service.sales import reservation_schemas as schemas
from service.sales import reservations
from service.sales.customers import keyed
from service.sales.models import Reservation
from service.sales.whose import promises_of

blueprint = router("reservations", "What was promised to orders.")


@blueprint.route("/reservations")
@allow(SALES | {Role.AUDITOR})
@blueprint.arguments(schemas.ReservationQuery, location="query")
@blueprint.response(200, page_of(schemas.ReservationOut))
def list_reservations(asked: Mapping[str, Any]) -> Response:
    """List what was promised; a shop sees its own."""
    statement = queries.reservations()
    if caller().role == Role.SHOP:
        statement = statement.where(Reservation.id.in_(promises_of(caller().name)))
    for name in ("order_ref", "status"):
        if asked[name] is not None:
            statement = statement.where(getattr(Reservation, name) == asked[name])
    found = page(session(), statement, [Reservation.at, Reservation.id], asked)
    views = queries.reservation_views(session(), found.rows)
    return listed(found, lambda row: views[row[0]])


@blueprint.route("/reservations", methods=["POST"])
@allow(SALES)
@blueprint.arguments(schemas.ReservationIn)
@blueprint.response(201, schemas.ReservationOut)
def reserve(body: Mapping[str, Any]) -> Response:
    """Promise units of cleared lots to one order, all lines or none."""
    made = reservations.reserve(session(), act_from(body), facts(body), keyed)
    return created(queries.reservation_view(session(), made), f"/reservations/{made.id}", made)


@blueprint.route("/reservations/<id:reservation_id>")
@allow(SALES | {Role.AUDITOR})
@blueprint.response(200, schemas.ReservationOut)
def show_reservation(reservation_id: str) -> Response:
    """Show one reservation; a shop one of its own."""
    found = queries.reservation_by_id(session(), reservation_id, caller().id)
    return answer(queries.reservation_view(session(), found), thing=found)


@blueprint.route("/reservations/<id:reservation_id>/confirmation", methods=["POST"])
@allow(SALES)
@blueprint.arguments(EmptyForm)
@blueprint.response(201, schemas.ReservationOut)
def confirm(body: Mapping[str, Any], reservation_id: str) -> Response:
    """The order is paid: the reservation holds until it is sent."""
    found = reservations.for_change(session(), reservation_id, caller().id)
    match(found)
    reservations.confirm(session(), act_from(body), found)
    return created(queries.reservation_view(session(), found), f"/reservations/{found.id}", found)


@blueprint.route("/reservations/<id:reservation_id>", methods=["DELETE"])
@allow(SALES)
@blueprint.response(204)
def cancel(reservation_id: str) -> Response:
    """Take a reservation back; its units may be sold to others."""
    found = reservations.for_change(session(), reservation_id, caller().id)
    match(found)
    reservations.cancel(session(), act_from({}), found)
    return Response(status=204)
