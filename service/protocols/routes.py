"""Addresses of protocols and mixing sheets."""

from collections.abc import Mapping
from typing import Any

from flask import Response, g

from service.accounts.rules import MANAGERS, READERS
from service.core.errors import Refused
from service.core.http import allow, answer, created, match, router, session
from service.core.pages import PageForm, listed, page, page_of
from service.journal.web import act_from
from service.protocols import actions, queries, schemas
from service.protocols.models import Protocol
from service.protocols.sheet_schemas import MixingSheetIn, MixingSheetOut
from service.science import amounts

blueprint = router("protocols", "Written treatments and their mixing sheets.")


@blueprint.route("/protocols")
@allow(READERS)
@blueprint.arguments(PageForm, location="query")
@blueprint.response(200, page_of(schemas.ProtocolOut))
def list_protocols(asked: Mapping[str, Any]) -> Response:
    """List protocols."""
    return listed(page(session(), queries.protocols(), [Protocol.code], asked), queries.protocol_shape)


@blueprint.route("/protocols", methods=["POST"])
@allow(MANAGERS)
@blueprint.arguments(schemas.ProtocolIn)
@blueprint.response(201, schemas.VersionOut)
def add_protocol(body: Mapping[str, Any]) -> Response:
    """Write a protocol with its first version."""
    protocol, version = actions.add_protocol(session(), act_from({}), body)
    return created(queries.version_view(protocol, version), f"/protocols/{protocol.code}/versions/1")


@blueprint.route("/protocols/<string:code>/versions", methods=["POST"])
@allow(MANAGERS)
@blueprint.arguments(schemas.ContentForm)
@blueprint.response(201, schemas.VersionOut)
def add_version(body: Mapping[str, Any], code: str) -> Response:
    """Write the next version of a protocol."""
    protocol = queries.protocol_by_code(session(), code, lock=True)
    match(protocol)
    _, version = actions.add_version(session(), act_from({}), protocol, body)
    return created(queries.version_view(protocol, version), f"/protocols/{code}/versions/{version.number}")


@blueprint.route("/protocols/<string:code>/versions/<int:number>")
@allow(READERS)
@blueprint.response(200, schemas.VersionOut)
def show_version(code: str, number: int) -> Response:
    """Show one version of a protocol."""
    return answer(queries.version_view(*queries.protocol_version(session(), code, number)))


@blueprint.route("/mixing-sheets", methods=["POST"])
@allow(READERS)
@blueprint.arguments(MixingSheetIn)
@blueprint.response(200, MixingSheetOut)
def compute_mixing_sheet(body: Mapping[str, Any]) -> Response:
    """Compute a mixing sheet; nothing is stored."""
    g.computes = True  # a reading session: no write lock is taken
    written = queries.asked_version(session(), body)
    volume_l = float(amounts.litres(body["water_volume"]))
    at = body["computed_for"] or g.now
    sheet = queries.sheet_for(session(), written, water_volume_l=volume_l, at=at, chosen=body["batches"])
    Refused.unless_empty(sheet.blocks[0].code if sheet.blocks else "", sheet.blocks)
    return answer(sheet.document)
