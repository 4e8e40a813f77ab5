"""Addresses of tubs, water systems and tools."""

from collections.abc import Mapping
from typing import Any

from flask import Response, g

from service.accounts.rules import BENCH, READERS
from service.core.http import allow, answer, connection, created, match, router, session
from service.core.pages import PageForm, listed, page_of, read_page
from service.journal.web import act_from, facts
from service.tubs import actions, queries, schemas, tools

blueprint = router("tubs", "Tubs, what shares their water, and what is measured in them.")


@blueprint.route("/tubs")
@allow(READERS)
@blueprint.arguments(PageForm, location="query")
@blueprint.response(200, page_of(schemas.TubOut))
def list_tubs(asked: Mapping[str, Any]) -> Response:
    """List tubs."""
    return listed(read_page(connection(), queries.TUBS, asked))


@blueprint.route("/tubs", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.TubIn)
@blueprint.response(201, schemas.TubOut)
def add_tub(body: Mapping[str, Any]) -> Response:
    """Add a tub."""
    tub = actions.add_tub(session(), act_from({}), body)
    return created(queries.TUB.show(tub), f"/tubs/{tub.id}", tub)


@blueprint.route("/tubs/<id:tub_id>")
@allow(READERS)
@blueprint.response(200, schemas.TubOut)
def show_tub(tub_id: str) -> Response:
    """Show a tub."""
    tub = queries.tub_by_id(session(), tub_id)
    return answer(queries.TUB.show(tub), thing=tub)


@blueprint.route("/tubs/<id:tub_id>", methods=["PATCH"])
@allow(BENCH)
@blueprint.arguments(schemas.TubPatch)
@blueprint.response(200, schemas.TubOut)
def change_tub(body: Mapping[str, Any], tub_id: str) -> Response:
    """Change a tub."""
    tub = queries.tub_by_id(session(), tub_id, lock=True)
    match(tub, required=True)
    actions.change_tub(session(), act_from({}), tub, body)
    return answer(queries.TUB.show(tub), thing=tub)


@blueprint.route("/water-systems")
@allow(READERS)
@blueprint.arguments(PageForm, location="query")
@blueprint.response(200, page_of(schemas.WaterSystemOut))
def list_water_systems(asked: Mapping[str, Any]) -> Response:
    """List what makes several tubs share water."""
    return listed(read_page(connection(), queries.WATER_SYSTEMS, asked))


@blueprint.route("/water-systems", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.WaterSystemIn)
@blueprint.response(201, schemas.WaterSystemOut)
def add_water_system(body: Mapping[str, Any]) -> Response:
    """Add a filter, pump or drain line that tubs share."""
    system = actions.add_water_system(session(), act_from({}), **body)
    return created(queries.WATER_SYSTEM.show(system), f"/water-systems/{system.id}", system)


@blueprint.route("/water-systems/<id:system_id>")
@allow(READERS)
@blueprint.response(200, schemas.WaterSystemOut)
def show_water_system(system_id: str) -> Response:
    """Show one water system."""
    system = queries.water_system_by_id(session(), system_id)
    return answer(queries.WATER_SYSTEM.show(system), thing=system)


@blueprint.route("/tools")
@allow(READERS)
@blueprint.arguments(PageForm, location="query")
@blueprint.response(200, page_of(schemas.ToolOut))
def list_tools(asked: Mapping[str, Any]) -> Response:
    """List tools."""
    return listed(read_page(connection(), tools.TOOLS, asked))


@blueprint.route("/tools", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.ToolIn)
@blueprint.response(201, schemas.ToolDetailOut)
def add_tool(body: Mapping[str, Any]) -> Response:
    """Add a tool."""
    tool = tools.add_tool(session(), act_from({}), body)
    return created(tools.tool_view(session(), tool, g.now), f"/tools/{tool.id}", tool)


@blueprint.route("/tools/<id:tool_id>")
@allow(READERS)
@blueprint.response(200, schemas.ToolDetailOut)
def show_tool(tool_id: str) -> Response:
    """Show one tool, with the tub whose water it carries."""
    tool = tools.tool_by_id(session(), tool_id)
    return answer(tools.tool_view(session(), tool, g.now), thing=tool)


@blueprint.route("/tools/<id:tool_id>/uses", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.UseIn)
@blueprint.response(201, schemas.UseOut)
def use_tool(body: Mapping[str, Any], tool_id: str) -> Response:
    """Write down that a tool touched a tub's water."""
    tool = tools.tool_by_id(session(), tool_id, lock=True)
    told = tools.use_tool(session(), act_from(body), tool, body["tub_id"])
    return created(told, f"/tools/{tool.id}", tool)


@blueprint.route("/tools/<id:tool_id>/disinfections", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.DisinfectionIn)
@blueprint.response(201, schemas.DisinfectionOut)
def disinfect_tool(body: Mapping[str, Any], tool_id: str) -> Response:
    """Write down what was done to a tool between two waters."""
    tool = tools.tool_by_id(session(), tool_id, lock=True)
    told = tools.disinfect(session(), act_from(body), tool, facts(body))
    return created(told, f"/tools/{tool.id}", tool)


@blueprint.route("/tubs/<id:tub_id>/measurements")
@allow(READERS)
@blueprint.arguments(schemas.MeasurementQuery, location="query")
@blueprint.response(200, page_of(schemas.MeasurementOut))
def list_measurements(asked: Mapping[str, Any], tub_id: str) -> Response:
    """List what test kits read in a tub."""
    queries.tub_by_id(session(), tub_id)
    return listed(read_page(connection(), queries.MEASUREMENTS, asked, {**asked, "tub": tub_id}))


@blueprint.route("/tubs/<id:tub_id>/measurements", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.MeasurementIn)
@blueprint.response(201, schemas.MeasurementOut)
def measure(body: Mapping[str, Any], tub_id: str) -> Response:
    """Write down what a test kit read."""
    tub = queries.tub_by_id(session(), tub_id, lock=True)
    measurement = actions.record_measurement(session(), act_from(body), tub, facts(body))
    return created(queries.MEASUREMENT.show(measurement), f"/tubs/{tub_id}/measurements")
