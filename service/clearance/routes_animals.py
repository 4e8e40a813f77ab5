"""Addresses of tests of soak water with shrimp or water fleas."""

from collections.abc import Mapping
from typing import Any

from flask import Response

from service.accounts.rules import BENCH, READERS
from service.clearance import animal_schemas, animals
from service.clearance.animal_models import AnimalTestRow
from service.core.http import allow, created, router, session
from service.core.pages import body_or_csv
from service.journal.web import act_from, facts
from service.lots.actions import lot_for_change
from service.lots.queries import lot_by_id

blueprint = router("animal tests", "Whether shrimp or water fleas live in water that plants soaked in.")


@blueprint.route("/lots/<id:lot_id>/animal-tests")
@allow(READERS)
@blueprint.response(200, animal_schemas.AnimalTestsOut)
def list_animal_tests(lot_id: str) -> Response:
    """List the tests of a lot, and of what it was split from before."""
    rows = animals.test_rows(session(), lot_by_id(session(), lot_id))
    shown = [_shown(row) for row in rows]
    return body_or_csv({"items": shown}, shown)


@blueprint.route("/lots/<id:lot_id>/animal-tests", methods=["POST"])
@allow(BENCH)
@blueprint.arguments(animal_schemas.AnimalTestIn)
@blueprint.response(201, animal_schemas.AnimalTestOut)
def enter_animal_test(body: Mapping[str, Any], lot_id: str) -> Response:
    """Enter how a test ended: the statement says it, and animals that died shut the residue gate."""
    lot = lot_for_change(session(), lot_id)
    row = animals.enter_test(session(), act_from(body), lot, facts(body))
    return created(_shown(row), f"/lots/{lot_id}/animal-tests")


def _shown(row: AnimalTestRow) -> dict[str, Any]:
    return {name: getattr(row, name) for name in animals.SHOWN}
