"""Addresses of the stores."""

from collections.abc import Mapping
from datetime import date
from typing import Any

from flask import Response, g

from service.accounts.rules import BENCH, MANAGERS, READERS
from service.core.clock import local_day
from service.core.errors import Invalid
from service.core.house import house
from service.core.http import allow, answer, caller, connection, created, etag, match, router, session
from service.core.pages import Page, PageForm, listed, page, page_of, read_page
from service.core.shapes import ExactAmount
from service.journal.web import act_from, facts
from service.science.amounts import Amount
from service.stores import (
    actions,
    batches,
    ledger,
    material_schemas,
    materials,
    queries,
    schemas,
    shapes,
    use_schemas,
    uses,
)
from service.stores.models import Material, StockBatch
from service.stores.quantities import base_units

blueprint = router("stores", "Dip materials, stock batches and the stock ledger.")


@blueprint.route("/materials")
@allow(READERS)
@blueprint.arguments(PageForm, location="query")
@blueprint.response(200, page_of(material_schemas.MaterialOut))
def list_materials(asked: Mapping[str, Any]) -> Response:
    """List materials."""
    return listed(page(session(), queries.materials(), [Material.code], asked), queries.material_shape)


@blueprint.route("/materials", methods=["POST"])
@allow(MANAGERS)
@blueprint.arguments(material_schemas.MaterialIn)
@blueprint.response(201, material_schemas.MaterialOut)
def add_material(body: Mapping[str, Any]) -> Response:
    """Add a material of the house's own."""
    material = materials.add_material(session(), act_from({}), body)
    return created(queries.material_view(material), f"/materials/{material.id}", material)


@blueprint.route("/materials/<id:material_id>")
@allow(READERS)
@blueprint.response(200, material_schemas.MaterialOut)
def show_material(material_id: str) -> Response:
    """Show a material with its figures."""
    material = queries.material_by_id(session(), material_id)
    return answer(queries.material_view(material), thing=material)


@blueprint.route("/materials/<id:material_id>", methods=["PATCH"])
@allow(MANAGERS)
@blueprint.arguments(material_schemas.MaterialPatch)
@blueprint.response(200, material_schemas.MaterialOut)
def change_material(body: Mapping[str, Any], material_id: str) -> Response:
    """Change a material's name or on what terms it is delivered."""
    material = queries.material_by_id(session(), material_id, lock=True)
    match(material, required=True)
    materials.change_material(session(), act_from({}), material, body)
    return answer(queries.material_view(material), thing=material)


@blueprint.route("/materials/<id:material_id>/batches", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.StockBatchIn)
@blueprint.response(201, schemas.StockBatchOut)
def receive_batch(body: Mapping[str, Any], material_id: str) -> Response:
    """Receive a batch of a material."""
    material = queries.material_by_id(session(), material_id)
    batch = batches.receive_batch(session(), act_from(body), material, facts(body))
    return created(_shown(batch, material), f"/stock-batches/{batch.id}", batch)


@blueprint.route("/stock-batches")
@allow(READERS)
@blueprint.arguments(schemas.StockBatchQuery, location="query")
@blueprint.response(200, page_of(schemas.StockBatchOut))
def list_batches(asked: Mapping[str, Any]) -> Response:
    """List batches with their balance and today's strength."""
    wanted = asked["usable"]
    statement = queries.batches(asked["material"], with_stock=wanted is True)
    found = page(session(), statement, [StockBatch.id], asked)
    shown = shapes.batch_views(session(), [(batch, material) for batch, material in found.rows], _today())
    kept = [row for row in shown if wanted is None or row["usable"] == wanted]
    return listed(Page(kept, found.next), lambda row: row)


@blueprint.route("/stock-batches/<id:batch_id>")
@allow(READERS)
@blueprint.response(200, schemas.StockBatchAloneOut)
def show_batch(batch_id: str) -> Response:
    """Show a batch with its balance, today's strength and the treatments it was used in."""
    batch = queries.batch_by_id(session(), batch_id)
    response = answer(_alone(batch))
    # The ETag is for If-Match; the strength changes with the day, so nobody is told 304.
    response.set_etag(etag(batch))
    return response


@blueprint.route("/stock-batches/<id:batch_id>", methods=["PATCH"])
@allow(BENCH)
@blueprint.arguments(schemas.StockBatchPatch)
@blueprint.response(200, schemas.StockBatchAloneOut)
def change_batch(body: Mapping[str, Any], batch_id: str) -> Response:
    """Open, block, unblock (managers) or measure a batch; the answer names where it was used."""
    batch = queries.batch_by_id(session(), batch_id, lock=True)
    match(batch, required=True)
    batches.change_batch(session(), act_from(body), batch, facts(body), by_manager=_is_manager())
    return answer(_alone(batch), thing=batch)


@blueprint.route("/stock-entries")
@allow(READERS)
@blueprint.arguments(schemas.StockEntryQuery, location="query")
@blueprint.response(200, page_of(schemas.StockEntryOut))
def list_entries(asked: Mapping[str, Any]) -> Response:
    """List lines of the ledger in the order they happened."""
    wanted = ledger.entries_asked(session(), asked)
    return listed(read_page(connection(), ledger.ENTRIES, asked, wanted))


@blueprint.route("/stock-counts", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.StockCountIn)
@blueprint.response(201, schemas.StockCountOut)
def count_stock(body: Mapping[str, Any]) -> Response:
    """Book a count; the difference becomes a line of its own."""
    batch, counted = _locked(body, "counted")
    unit = queries.material_by_id(session(), batch.material_id).base_unit
    act = act_from(body)
    count_id, expected, entry = actions.count(session(), act, batch, counted, body["note"])
    numbers = {"counted": counted, "expected": expected, "difference": counted - expected}
    shown = {name: ExactAmount.of(value, unit) for name, value in numbers.items()}
    known = {"id": count_id, "batch_id": batch.id, "entry_id": entry.id if entry else None, "at": act.at}
    return answer({**known, **shown}, 201)


@blueprint.route("/stock-uses", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(use_schemas.StockUseIn)
@blueprint.response(201, use_schemas.StockUseOut)
def use_stock(body: Mapping[str, Any]) -> Response:
    """Book what a test used, first expired first out or from a named batch."""
    return answer(uses.use_for_test(session(), act_from(body), body), 201)


@blueprint.route("/stock-disposals", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.StockDisposalIn)
@blueprint.response(201, schemas.StockEntryOut)
def dispose_of_stock(body: Mapping[str, Any]) -> Response:
    """Book stock that leaves without being used."""
    batch, amount = _locked(body, "quantity")
    entry = actions.dispose(session(), act_from(body), batch, amount, way=body["way"], reason=body["reason"])
    return answer(ledger.entry_view(session(), entry), 201)


@blueprint.route("/stock-entries/<id:entry_id>/reversal", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.StockReversalIn)
@blueprint.response(201, schemas.StockEntryOut)
def reverse_entry(body: Mapping[str, Any], entry_id: str) -> Response:
    """Undo a line by a second one; what a treatment drew only by a manager."""
    entry = ledger.entry_by_id(session(), entry_id)
    undone = actions.reverse(session(), act_from(body), entry, body["reason"], by_manager=_is_manager())
    return answer(ledger.entry_view(session(), undone), 201)


def _is_manager() -> bool:
    return caller().role in MANAGERS


def _locked(body: Mapping[str, Any], name: str) -> tuple[StockBatch, int]:
    batch = session().get(StockBatch, body["batch_id"], with_for_update=True)
    if batch is None:
        raise Invalid.at("#/batch_id", "There is no such stock batch.", code="unknown-batch")
    match(batch)
    material = queries.material_by_id(session(), batch.material_id)
    amount: Amount = body[name]
    return batch, base_units(material.base_unit, amount, f"#/{name}", drop_ml=batch.drop_ml)


def _alone(batch: StockBatch) -> dict[str, Any]:
    material = queries.material_by_id(session(), batch.material_id)
    uses = ledger.uses_shape(session(), batch.id, material.base_unit)
    return {**_shown(batch, material), "used_in": uses}


def _shown(batch: StockBatch, material: Material) -> dict[str, Any]:
    return shapes.batch_view(session(), batch, material, _today())


def _today() -> date:
    return local_day(g.now, house(session()).time_zone)
