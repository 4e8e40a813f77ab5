"""Written treatments over HTTP."""

from typing import Any

import pytest

from service.core.db import Database
from tests.api import Api
from tests.make_protocols import dip, written
from tests.unchanged import unchanged


def own(**changes: Any) -> dict[str, Any]:
    return dip("own-salt", "salt", "salt", 35, "g/L") | changes


def without(body: dict[str, Any], *names: str) -> dict[str, Any]:
    return {name: value for name, value in body.items() if name not in names}


def test_the_reference_protocols_are_listed(api: Api) -> None:
    codes = {item["code"]: item["latest_version"] for item in api.auditor.seen("/protocols")["items"]}
    assert codes == dict.fromkeys(
        (
            "alum-soak",
            "bleach-dip",
            "copper-course",
            "permanganate-dip",
            "peroxide-dip",
            "quarantine-only",
        ),
        1,
    )


def test_a_protocol_of_ones_own_is_kept_as_written(api: Api) -> None:
    made = written(api, own())
    assert (made["protocol"], made["version"], made["reference_version"]) == ("own-salt", 1, None)
    seen = api.grower.seen("/protocols/own-salt/versions/1")
    assert seen == made
    assert seen["content"]["steps"][1]["dose"] == {"value": 35, "unit": "g/L"}
    assert {"code", "version", "method", "credits", "residue"} <= set(seen["content"])


def test_a_new_version_leaves_the_old_one_as_it_was(api: Api) -> None:
    first = written(api, own())
    changed = without(own(name="Salt, longer"), "code", "method")
    second = api.manager.made("/protocols/own-salt/versions", changed)
    assert (second["version"], second["name"]) == (2, "Salt, longer")
    assert api.grower.seen("/protocols/own-salt/versions/1") == first
    [listed] = [item for item in api.grower.seen("/protocols")["items"] if item["code"] == "own-salt"]
    assert (listed["latest_version"], listed["name"]) == (2, "Salt, longer")


def test_a_code_is_taken_once(api: Api, database: Database) -> None:
    written(api, own())
    with unchanged(database):
        assert api.manager.post("/protocols", own()).status_code == 409


def test_only_managers_write_treatments(api: Api) -> None:
    for client in (api.grower, api.seller, api.auditor, api.shop):
        assert client.post("/protocols", own()).status_code == 403


def test_what_is_not_there_is_not_found(api: Api) -> None:
    assert api.grower.get("/protocols/nothing/versions/1").status_code == 404
    assert api.grower.get("/protocols/alum-soak/versions/2").status_code == 404
    body = without(own(), "code", "method")
    assert api.manager.post("/protocols/nothing/versions", body).status_code == 404


STEPS = own()["steps"]


@pytest.mark.parametrize(
    ("changes", "pointer"),
    [
        ({"cautions": []}, "#/cautions"),
        ({"steps": []}, "#/steps"),
        ({"steps": [STEPS[1]]}, "#/steps/0/n"),
        ({"steps": [STEPS[0], STEPS[1] | {"material": "elixir"}]}, "#/steps/1/material"),
        ({"steps": [STEPS[0], STEPS[1] | {"kind": "boil"}]}, "#/steps/1/kind"),
        ({"steps": [STEPS[0], STEPS[1] | {"dose": {"value": -1, "unit": "g/L"}}]}, "#/steps/1/dose/value"),
        ({"code": "Salt Dip"}, "#/code"),
        ({"method": "boiling"}, "#/method"),
        ({"smell": "fine"}, "#/smell"),
    ],
)
def test_a_treatment_that_makes_no_sense_is_refused_by_its_place(
    api: Api, database: Database, changes: dict[str, Any], pointer: str
) -> None:
    with unchanged(database):
        answer = api.manager.post("/protocols", own(**changes))
    assert answer.status_code == 422
    assert [error["pointer"] for error in answer.get_json()["errors"]] == [pointer]
