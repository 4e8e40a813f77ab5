"""Addresses of shelves and how warm they are."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from flask import Response

from service.accounts.rules import BENCH, READERS
from service.core.http import allow, answer, created, router, session
from service.core.pages import PageForm, listed, page, page_of
from service.journal.web import act_from
from service.science.amounts import Amount, celsius
from service.stores import shelf_schemas, shelves
from service.stores.models import Shelf, ShelfReading

LOGGER = "Read out from a logger."
blueprint = router("shelves", "Places in the store, whose temperature ages what stands there.")


@blueprint.route("/shelves")
@allow(READERS)
@blueprint.arguments(PageForm, location="query")
@blueprint.response(200, page_of(shelf_schemas.ShelfOut))
def list_shelves(asked: Mapping[str, Any]) -> Response:
    """List shelves."""
    return listed(page(session(), shelves.all_shelves(), [Shelf.name], asked), shelves.shelf_shape)


@blueprint.route("/shelves", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(shelf_schemas.ShelfIn)
@blueprint.response(201, shelf_schemas.ShelfOut)
def add_shelf(body: Mapping[str, Any]) -> Response:
    """Add a shelf."""
    shelf = shelves.add_shelf(session(), act_from({}), body["name"])
    return created(shelves.shelf_view(shelf), f"/shelves/{shelf.id}", shelf)


@blueprint.route("/shelves/<id:shelf_id>")
@allow(READERS)
@blueprint.response(200, shelf_schemas.ShelfOut)
def show_shelf(shelf_id: str) -> Response:
    """Show a shelf."""
    shelf = shelves.shelf_by_id(session(), shelf_id)
    return answer(shelves.shelf_view(shelf), thing=shelf)


@blueprint.route("/shelves/<id:shelf_id>/temperatures")
@allow(READERS)
@blueprint.arguments(PageForm, location="query")
@blueprint.response(200, page_of(shelf_schemas.ShelfReadingOut))
def list_shelf_temperatures(asked: Mapping[str, Any], shelf_id: str) -> Response:
    """List the readings of a shelf in order, voided ones too."""
    shelves.shelf_by_id(session(), shelf_id)
    found = page(session(), shelves.readings(shelf_id), [ShelfReading.at, ShelfReading.id], asked)
    return listed(found, shelves.reading_shape)


@blueprint.route("/shelves/<id:shelf_id>/temperatures", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(shelf_schemas.ShelfReadingsIn)
@blueprint.response(201, shelf_schemas.ShelfReadingsOut)
def keep_shelf_temperatures(body: Mapping[str, Any], shelf_id: str) -> Response:
    """Keep readings of a shelf: all of them or none."""
    shelf = shelves.shelf_by_id(session(), shelf_id, lock=True)
    act = act_from({"late_reason": body["late_reason"] or (LOGGER if body["logger"] else None)})
    read = [
        (each["at"], round(float(celsius(Amount(Decimal(repr(each["value"])), each["unit"]))), 3))
        for each in body["readings"]
    ]
    told = shelves.record_readings(session(), act, shelf, read)
    return created(told, f"/shelves/{shelf.id}/temperatures")


@blueprint.route("/shelf-readings/<id:reading_id>/void", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(shelf_schemas.ShelfVoidIn)
@blueprint.response(200, shelf_schemas.ShelfReadingOut)
def void_shelf_reading(body: Mapping[str, Any], reading_id: str) -> Response:
    """Void a wrong reading; it stays in the record with the reason."""
    reading = shelves.void_reading(session(), act_from(body), reading_id, body["reason"])
    return answer(shelves.reading_shape([getattr(reading, name) for name in shelves.READING]))
