"""Addresses of trial stems."""

from collections.abc import Mapping
from typing import Any

from flask import Response

from service.accounts.rules import BENCH, READERS
from service.core.http import allow, created, router, session
from service.core.pages import body_or_csv
from service.journal.web import act_from, facts
from service.lots.actions import lot_for_change
from service.lots.queries import lot_by_id
from service.treatments import stem_schemas, stems
from service.treatments.stem_queries import stem_trial_by_id, stem_view, stem_views

blueprint = router("trial stems", "A tenth of a lot, tried before the rest and judged on day 2, 7 and 14.")


@blueprint.route("/lots/<id:lot_id>/trial-stems")
@allow(READERS)
@blueprint.response(200, stem_schemas.StemTrialsOut)
def list_trial_stems(lot_id: str) -> Response:
    """List the trial stems of a lot, and of what it was split from before."""
    shown = stem_views(session(), lot_by_id(session(), lot_id))
    return body_or_csv({"items": shown}, shown)


@blueprint.route("/lots/<id:lot_id>/trial-stems", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(stem_schemas.StemTrialIn)
@blueprint.response(201, stem_schemas.StemTrialOut)
def try_stems(body: Mapping[str, Any], lot_id: str) -> Response:
    """Enter that a protocol was tried on a few stems, at most a tenth of the lot."""
    lot = lot_for_change(session(), lot_id)
    trial = stems.try_stems(session(), act_from(body), lot, facts(body))
    return created(stem_view(session(), trial), f"/lots/{lot.id}/trial-stems")


@blueprint.route("/trial-stems/<id:trial_id>/judgements", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(stem_schemas.JudgementIn)
@blueprint.response(201, stem_schemas.StemTrialOut)
def judge_stems(body: Mapping[str, Any], trial_id: str) -> Response:
    """Enter how many of the stems live."""
    trial = stem_trial_by_id(session(), trial_id)
    lot_for_change(session(), trial.lot_id)
    stems.judge_stems(session(), act_from(body), trial, facts(body))
    return created(stem_view(session(), trial), f"/lots/{trial.lot_id}/trial-stems")
