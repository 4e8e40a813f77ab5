"""Addresses of trials."""

from collections.abc import Mapping
from typing import Any

from flask import Response, g

from service.accounts.rules import BENCH, MANAGERS, READERS, Role
from service.core.errors import Forbidden
from service.core.http import BASE, allow, answer, caller, etag, match, router, session
from service.core.pages import body_or_csv, listed, page, page_of
from service.journal.web import act_from, facts
from service.photos.queries import photos_of
from service.photos.schemas import VoidPhotoIn
from service.trials import (
    adopting,
    adoption_schemas,
    answer_schemas,
    closing,
    observing,
    photographing,
    planning,
    queries,
    result_schemas,
    results,
    schemas,
    views,
)
from service.trials.gathering import Result, result_of
from service.trials.models import Trial, TrialObservation
from service.trials.report import trial_pdf

blueprint = router("trials", "Treatments compared on like units, with a control.")
PDF = "application/pdf"
KNOW_ARMS = frozenset({Role.OWNER, Role.MANAGER, Role.AUDITOR})


@blueprint.route("/trials")
@allow(READERS)
@blueprint.arguments(schemas.TrialQuery, location="query")
@blueprint.response(200, page_of(answer_schemas.TrialRowOut))
def list_trials(asked: Mapping[str, Any]) -> Response:
    """List trials, the newest first."""
    statement = queries.trials()
    if asked["state"] is not None:
        closed = Trial.closed_at.is_not(None)
        statement = statement.where(closed if asked["state"] == "closed" else ~closed)
    found = page(session(), statement, [Trial.starts_at, Trial.id], asked, descending=True)
    return listed(found, queries.trial_shape)


@blueprint.route("/trials", methods=["POST"])
@allow(MANAGERS)
@blueprint.arguments(schemas.TrialIn)
@blueprint.response(201, answer_schemas.TrialOut)
def plan_trial(body: Mapping[str, Any]) -> Response:
    """Lay a trial out: split its units off, deal them to tubs by the seed, hold them from sale."""
    trial = planning.plan_trial(session(), act_from(body), facts(body))
    return _shown(trial, 201, f"{BASE}/trials/{trial.id}")


@blueprint.route("/trials/<id:trial_id>")
@allow(READERS)
@blueprint.response(200, answer_schemas.TrialOut)
def show_trial(trial_id: str) -> Response:
    """Show a trial with its layout and schedule; a blind one tells its arms to managers and auditors only."""
    return _shown(queries.trial_by_id(session(), trial_id))


@blueprint.route("/trials/<id:trial_id>/observations")
@allow(READERS)
@blueprint.arguments(schemas.ObservationQuery, location="query")
@blueprint.response(200, page_of(answer_schemas.ObservationOut))
def list_observations(asked: Mapping[str, Any], trial_id: str) -> Response:
    """List what was observed, voided entries too, in order."""
    statement = queries.observations(queries.trial_by_id(session(), trial_id).id)
    if asked["day"] is not None:
        statement = statement.where(TrialObservation.day == asked["day"])
    found = page(session(), statement, [TrialObservation.at, TrialObservation.id], asked)
    kept = photos_of(session(), [row[0] for row in found.rows])
    return listed(found, lambda row: queries.observation_shape(row, kept))


@blueprint.route("/trials/<id:trial_id>/observations", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.ObservationIn)
@blueprint.response(201, answer_schemas.ObservationOut)
def observe(body: Mapping[str, Any], trial_id: str) -> Response:
    """Enter a look at a trial; what lives is also a find in its lots."""
    act = act_from(body)
    found = observing.lock_trial(session(), trial_id, act=act)
    match(found[0])
    told = {**facts(body), "observer": body["observer"] or caller().name}
    knows = told["observer"] == caller().name and caller().role in KNOW_ARMS
    return _observation(observing.observe(session(), act, found, told, reads_arms=knows), 201)


@blueprint.route("/trials/<id:trial_id>/observations/<id:observation_id>/photos", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.PhotosIn)
@blueprint.response(200, answer_schemas.ObservationOut)
def photograph_observation(body: Mapping[str, Any], trial_id: str, observation_id: str) -> Response:
    """Add photos that were sent to an observation that was made."""
    act = act_from(body)
    found = observing.lock_trial(session(), trial_id)
    match(found[0])
    observation = queries.observation_by_id(session(), trial_id, observation_id)
    photographing.photograph(session(), act, found, observation, body["photos"])
    return _observation(observation)


@blueprint.route(
    "/trials/<id:trial_id>/observations/<id:observation_id>/photos/<sha256>/void", methods=["POST"]
)
@allow(BENCH)
@blueprint.arguments(VoidPhotoIn)
@blueprint.response(200, answer_schemas.ObservationOut)
def void_photo(body: Mapping[str, Any], trial_id: str, observation_id: str, sha256: str) -> Response:
    """Void a photo of an observation that is wrong, with the reason: it is hidden, not removed."""
    trial, _ = observing.lock_trial(session(), trial_id)
    match(trial)
    observation = queries.observation_by_id(session(), trial_id, observation_id)
    told = {**body, "sha256": sha256}
    photographing.void_photo_of_observation(session(), act_from({}), trial, observation, told)
    return _observation(observation)


@blueprint.route("/trials/<id:trial_id>/observations/<id:observation_id>/void", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(schemas.VoidIn)
@blueprint.response(200, answer_schemas.ObservationOut)
def void_observation(body: Mapping[str, Any], trial_id: str, observation_id: str) -> Response:
    """Void an observation that was wrong, and the looks written with it."""
    trial, _ = observing.lock_trial(session(), trial_id)
    match(trial)
    observation = queries.observation_by_id(session(), trial_id, observation_id)
    observing.void_observation(session(), act_from({}), trial, observation, body["reason"])
    return _observation(observation)


@blueprint.route("/trials/<id:trial_id>/result")
@allow(READERS)
@blueprint.response(200, result_schemas.ResultOut)
def show_result(trial_id: str) -> Response:
    """Show what a trial says so far and what it cannot say; as CSV its kills and plants."""
    found = _result(trial_id)
    return body_or_csv(results.result_view(found), results.csv_rows(found))


@blueprint.route("/trials/<id:trial_id>/report.pdf")
@allow(READERS)
@blueprint.file(PDF)
def show_report(trial_id: str) -> Response:
    """The report of a trial for one's own files: method, data, figures, cautions."""
    found = _result(trial_id)
    view = views.trial_view(session(), found.trial, g.now, knows=True)
    kept = photos_of(session(), [one.id for one in found.observations])
    told = [{**one.told, "day": one.day, "kept_photos": kept[one.id]} for one in found.observations]
    return Response(trial_pdf(view, results.result_view(found), told, g.now), mimetype=PDF)


@blueprint.route("/trials/<id:trial_id>/adoption", methods=["POST"])
@allow(MANAGERS)
@blueprint.arguments(schemas.AdoptionIn)
@blueprint.response(201, adoption_schemas.AdoptionOut)
def adopt(body: Mapping[str, Any], trial_id: str) -> Response:
    """Learn from an arm with one approval: credits as a new protocol version, plants' tolerances."""
    act = act_from(body)
    found = observing.lock_trial(session(), trial_id)
    match(found[0])
    adoption = adopting.adopt(session(), act, found, facts(body))
    return answer(views.adoption_view(session(), adoption), 201)


@blueprint.route("/trials/<id:trial_id>/close", methods=["POST"])
@allow(MANAGERS)
@blueprint.arguments(schemas.CloseIn)
@blueprint.response(200, answer_schemas.TrialOut)
def close_trial(body: Mapping[str, Any], trial_id: str) -> Response:
    """Close a trial, early or at its end; its lots go on by the regular gates."""
    act = act_from(body)
    found = observing.lock_trial(session(), trial_id)
    match(found[0])
    closing.close_trial(session(), act, found, **facts(body))
    return _shown(found[0])


def _result(trial_id: str) -> Result:
    """The result, for who may know the arms: a blind observer would know them from it."""
    trial = queries.trial_by_id(session(), trial_id)
    if not views.is_told(trial) and caller().role not in KNOW_ARMS:
        raise Forbidden("The trial is blind and open: who observes it reads its result when it is closed.")
    return result_of(session(), trial, g.now)


def _shown(trial: Trial, status: int = 200, location: str | None = None) -> Response:
    view = views.trial_view(session(), trial, g.now, knows=caller().role in KNOW_ARMS)
    response = answer(view, status, location=location)
    response.set_etag(etag(trial))  # never 304: how the schedule stands changes with time
    return response


def _observation(observation: TrialObservation, status: int = 200) -> Response:
    row = [getattr(observation, name) for name in queries.OBSERVATION]
    kept = photos_of(session(), [observation.id])
    return answer(queries.observation_shape(row, kept), status)
