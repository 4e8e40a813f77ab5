"""Addresses of sales items."""

from collections.abc import Mapping
from typing import Any

from flask import Response

from service.accounts.rules import EVERYONE, SALES, Role
from service.core.http import allow, answer, created, match, router, session
from service.core.pages import listed, page, page_of
from service.journal.web import act_from
from service.sales import item_actions, item_queries
from service.sales import item_schemas as schemas
from service.sales.item_models import SalesItem

blueprint = router("sales items", "What the shop calls one unit of a plant.")
SELLERS = SALES - {Role.SHOP}


@blueprint.route("/sales-items")
@allow(EVERYONE)
@blueprint.arguments(schemas.SalesItemQuery, location="query")
@blueprint.response(200, page_of(schemas.SalesItemOut))
def list_sales_items(asked: Mapping[str, Any]) -> Response:
    """List sales items by SKU."""
    statement = item_queries.items()
    for name, column in (("plant", SalesItem.plant_id), ("sku", SalesItem.sku)):
        if asked[name] is not None:
            statement = statement.where(column == asked[name])
    return listed(page(session(), statement, [SalesItem.sku], asked), item_queries.item_shape)


@blueprint.route("/sales-items", methods=["POST"])
@allow(SELLERS)
@blueprint.arguments(schemas.SalesItemIn)
@blueprint.response(201, schemas.SalesItemOut)
def add_sales_item(body: Mapping[str, Any]) -> Response:
    """Give a plant in one unit of sale its SKU, and its GTIN if it has one."""
    made = item_actions.add_item(session(), act_from({}), body)
    return created(item_queries.item_view(session(), made), f"/sales-items/{made.id}", made)


@blueprint.route("/sales-items/<id:item_id>")
@allow(EVERYONE)
@blueprint.response(200, schemas.SalesItemOut)
def show_sales_item(item_id: str) -> Response:
    """Show a sales item."""
    found = item_queries.item_by_id(session(), item_id)
    return answer(item_queries.item_view(session(), found), thing=found)


@blueprint.route("/sales-items/<id:item_id>", methods=["PATCH"])
@allow(SELLERS)
@blueprint.arguments(schemas.SalesItemPatch)
@blueprint.response(200, schemas.SalesItemOut)
def change_sales_item(body: Mapping[str, Any], item_id: str) -> Response:
    """Change the SKU or GTIN of a sales item."""
    found = item_queries.item_by_id(session(), item_id, lock=True)
    match(found, required=True)
    item_actions.change_item(session(), act_from({}), found, body)
    return answer(item_queries.item_view(session(), found), thing=found)
