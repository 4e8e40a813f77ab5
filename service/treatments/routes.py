"""Addresses of treatments, baths and water changes."""

from collections.abc import Mapping
from typing import Any

from flask import Response, g

from service.accounts.rules import BENCH, READERS, Role
from service.core.errors import Invalid
from service.core.http import allow, answer, caller, created, match, router, session
from service.core.pages import listed, page, page_of
from service.journal.web import act_from, facts
from service.treatments import actions, bath_queries, bath_schemas, baths, queries, schemas
from service.treatments.models import Bath, Treatment

blueprint = router(
    "treatments", "Protocols carried out on lots in a tub, baths for several lots, and water changes."
)


@blueprint.route("/treatments")
@allow(READERS)
@blueprint.arguments(schemas.TreatmentQuery, location="query")
@blueprint.response(200, page_of(schemas.TreatmentOut))
def list_treatments(asked: Mapping[str, Any]) -> Response:
    """List treatments."""
    statement = queries.treatments(state=asked["state"], tub=asked["tub"], lot=asked["lot"])
    found = page(session(), statement, [Treatment.id], asked)
    views = queries.treatment_views(session(), [row[0] for row in found.rows])
    return listed(found, lambda row: views[row[0].id])


@blueprint.route("/treatments", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.TreatmentIn)
@blueprint.response(201, schemas.TreatmentOut)
def plan_treatment(body: Mapping[str, Any]) -> Response:
    """Plan a treatment; nothing is booked yet."""
    by_owner = caller().role == Role.OWNER
    treatment = actions.plan_treatment(session(), act_from(body), facts(body), by_owner=by_owner)
    view = queries.treatment_view(session(), treatment)
    return created(view, f"/treatments/{treatment.id}", treatment)


@blueprint.route("/treatments/<id:treatment_id>")
@allow(READERS)
@blueprint.response(200, schemas.TreatmentOut)
def show_treatment(treatment_id: str) -> Response:
    """Show a treatment."""
    treatment = queries.treatment_by_id(session(), treatment_id)
    return answer(queries.treatment_view(session(), treatment), thing=treatment)


@blueprint.route("/treatments/<id:treatment_id>/steps/<int:n>/start", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.StartIn)
@blueprint.response(200, schemas.TreatmentOut)
def start_step(body: Mapping[str, Any], treatment_id: str, n: int) -> Response:
    """Start a step: its sheet is frozen and its stock drawn."""
    act = act_from(body)
    treatment = actions.treatment_for_change(session(), treatment_id, since=act.at)
    match(treatment)
    actions.start_step(session(), act, treatment, n, facts(body))
    return answer(queries.treatment_view(session(), treatment), thing=treatment)


@blueprint.route("/treatments/<id:treatment_id>/steps/<int:n>/finish", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.FinishStepIn)
@blueprint.response(200, schemas.TreatmentOut)
def finish_step(body: Mapping[str, Any], treatment_id: str, n: int) -> Response:
    """Finish a step; outside its limits a departure is required."""
    act = act_from(body)
    treatment = actions.treatment_for_change(session(), treatment_id, since=act.at)
    match(treatment)
    actions.finish_step(session(), act, treatment, n, body["departure"])
    return answer(queries.treatment_view(session(), treatment), thing=treatment)


@blueprint.route("/treatments/<id:treatment_id>/finish", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.FinishIn)
@blueprint.response(200, schemas.TreatmentOut)
def finish_treatment(body: Mapping[str, Any], treatment_id: str) -> Response:
    """Finish a treatment: its lots go into quarantine."""
    act = act_from(body)
    treatment = actions.treatment_for_change(session(), treatment_id, [body["to_tub_id"]], since=act.at)
    match(treatment)
    actions.finish_treatment(session(), act, treatment, facts(body))
    return answer(queries.treatment_view(session(), treatment), thing=treatment)


@blueprint.route("/treatments/<id:treatment_id>/abandon", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.AbandonIn)
@blueprint.response(200, schemas.TreatmentOut)
def abandon_treatment(body: Mapping[str, Any], treatment_id: str) -> Response:
    """Stop a treatment early."""
    act = act_from(body)
    treatment = actions.treatment_for_change(session(), treatment_id, since=act.at)
    match(treatment)
    actions.abandon_treatment(session(), act, treatment, body["reason"])
    return answer(queries.treatment_view(session(), treatment), thing=treatment)


@blueprint.route("/tubs/<id:tub_id>/water-changes", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.WaterChangeIn)
@blueprint.response(201, schemas.WaterChangeOut)
def change_water(body: Mapping[str, Any], tub_id: str) -> Response:
    """Change the water of a tub, with the re-dose of a running course."""
    if body["poured"] and not body["redose"]:
        raise Invalid.at("#/poured", "Only a re-dose pours anything.", code="nothing-to-pour")
    changed = actions.change_water(session(), act_from(body), tub_id, facts(body))
    return answer(changed.view(), 201)


@blueprint.route("/baths")
@allow(READERS)
@blueprint.arguments(bath_schemas.BathQuery, location="query")
@blueprint.response(200, page_of(bath_schemas.BathOut))
def list_baths(asked: Mapping[str, Any]) -> Response:
    """List baths."""
    found = page(session(), bath_queries.baths(open_only=asked["open"]), [Bath.id], asked)
    return listed(found, lambda row: bath_queries.bath_view(session(), row[0], g.now))


@blueprint.route("/baths", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(bath_schemas.BathIn)
@blueprint.response(201, bath_schemas.BathOut)
def mix_bath(body: Mapping[str, Any]) -> Response:
    """Mix one bath for several lots in turn: its stock is drawn once."""
    bath = baths.mix_bath(session(), act_from(body), facts(body))
    return created(bath_queries.bath_view(session(), bath, g.now), f"/baths/{bath.id}", bath)


@blueprint.route("/baths/<id:bath_id>")
@allow(READERS)
@blueprint.response(200, bath_schemas.BathOut)
def show_bath(bath_id: str) -> Response:
    """Show a bath and whether it may be used now."""
    bath = bath_queries.bath_by_id(session(), bath_id)
    return answer(bath_queries.bath_view(session(), bath, g.now), thing=bath)


@blueprint.route("/baths/<id:bath_id>/readings", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(bath_schemas.BathTestIn)
@blueprint.response(201, bath_schemas.BathOut)
def read_bath(body: Mapping[str, Any], bath_id: str) -> Response:
    """Write down what a test kit read in a bath."""
    bath = bath_queries.bath_by_id(session(), bath_id, lock=True)
    baths.read_bath(session(), act_from(body), bath, facts(body))
    return answer(bath_queries.bath_view(session(), bath, g.now), 201, thing=bath)


@blueprint.route("/baths/<id:bath_id>/discard", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(bath_schemas.BathDiscardIn)
@blueprint.response(200, bath_schemas.BathOut)
def discard_bath(body: Mapping[str, Any], bath_id: str) -> Response:
    """Throw a bath away, as its sheet says."""
    bath = bath_queries.bath_by_id(session(), bath_id, lock=True)
    baths.discard_bath(session(), act_from(body), bath, body["reason"])
    return answer(bath_queries.bath_view(session(), bath, g.now), thing=bath)
