"""Addresses of the catalogue."""

from collections.abc import Mapping
from typing import Any

from flask import Response

from service.accounts.rules import BENCH, MANAGERS, READERS
from service.catalogue import actions, queries, schemas
from service.catalogue.models import Pest, Plant, Supplier
from service.catalogue.rules import Method
from service.core.errors import NotFound
from service.core.http import allow, answer, created, match, router, session
from service.core.pages import PageForm, listed, page, page_of
from service.journal.web import act_from

blueprint = router("catalogue", "Suppliers, plants with their tolerances, and pests.")


@blueprint.route("/suppliers")
@allow(READERS)
@blueprint.arguments(schemas.SupplierQuery, location="query")
@blueprint.response(200, page_of(schemas.SupplierOut))
def list_suppliers(asked: Mapping[str, Any]) -> Response:
    """List suppliers."""
    found = page(session(), queries.suppliers(active=asked["active"]), [Supplier.id], asked)
    return listed(found, queries.supplier_shape)


@blueprint.route("/suppliers", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.SupplierIn)
@blueprint.response(201, schemas.SupplierOut)
def add_supplier(body: Mapping[str, Any]) -> Response:
    """Add a supplier."""
    supplier = actions.add_supplier(session(), act_from({}), body)
    return created(queries.supplier_view(supplier), f"/suppliers/{supplier.id}", supplier)


@blueprint.route("/suppliers/<id:supplier_id>")
@allow(READERS)
@blueprint.response(200, schemas.SupplierOut)
def show_supplier(supplier_id: str) -> Response:
    """Show a supplier."""
    supplier = queries.supplier_by_id(session(), supplier_id)
    return answer(queries.supplier_view(supplier), thing=supplier)


@blueprint.route("/suppliers/<id:supplier_id>", methods=["PATCH"])
@allow(MANAGERS)
@blueprint.arguments(schemas.SupplierPatch)
@blueprint.response(200, schemas.SupplierOut)
def change_supplier(body: Mapping[str, Any], supplier_id: str) -> Response:
    """Change a supplier."""
    supplier = queries.supplier_by_id(session(), supplier_id, lock=True)
    match(supplier, required=True)
    actions.change_supplier(session(), act_from({}), supplier, body)
    return answer(queries.supplier_view(supplier), thing=supplier)


@blueprint.route("/plants")
@allow(READERS)
@blueprint.arguments(PageForm, location="query")
@blueprint.response(200, page_of(schemas.PlantOut))
def list_plants(asked: Mapping[str, Any]) -> Response:
    """List plants."""
    return listed(page(session(), queries.plants(), [Plant.code], asked), queries.plant_shape)


@blueprint.route("/plants", methods=["POST"])
@allow(MANAGERS)
@blueprint.arguments(schemas.PlantIn)
@blueprint.response(201, schemas.PlantDetailOut)
def add_plant(body: Mapping[str, Any]) -> Response:
    """Add a plant."""
    plant = actions.add_plant(session(), act_from({}), body)
    return created(queries.plant_view(session(), plant), f"/plants/{plant.id}", plant)


@blueprint.route("/plants/<id:plant_id>")
@allow(READERS)
@blueprint.response(200, schemas.PlantDetailOut)
def show_plant(plant_id: str) -> Response:
    """Show a plant with its tolerances."""
    plant = queries.plant_by_id(session(), plant_id)
    return answer(queries.plant_view(session(), plant), thing=plant)


@blueprint.route("/plants/<id:plant_id>", methods=["PATCH"])
@allow(MANAGERS)
@blueprint.arguments(schemas.PlantPatch)
@blueprint.response(200, schemas.PlantDetailOut)
def change_plant(body: Mapping[str, Any], plant_id: str) -> Response:
    """Change a plant."""
    plant = queries.plant_by_id(session(), plant_id, lock=True)
    match(plant, required=True)
    actions.change_plant(session(), act_from({}), plant, body)
    return answer(queries.plant_view(session(), plant), thing=plant)


@blueprint.route("/plants/<id:plant_id>/tolerances/<method>", methods=["PUT"])
@allow(MANAGERS)
@blueprint.arguments(schemas.ToleranceIn)
@blueprint.response(200, schemas.PlantDetailOut)
def set_tolerance(body: Mapping[str, Any], plant_id: str, method: str) -> Response:
    """Say how a plant takes a method."""
    if method not in set(Method):
        raise NotFound("method")
    plant = queries.plant_by_id(session(), plant_id, lock=True)
    match(plant, required=True)
    actions.set_tolerance(session(), act_from({}), plant, Method(method), body)
    return answer(queries.plant_view(session(), plant), thing=plant)


@blueprint.route("/pests")
@allow(READERS)
@blueprint.arguments(PageForm, location="query")
@blueprint.response(200, page_of(schemas.PestOut))
def list_pests(asked: Mapping[str, Any]) -> Response:
    """List pests with their development and detectability figures and sources."""
    return listed(page(session(), queries.pests(), [Pest.code], asked), queries.pest_shape)
