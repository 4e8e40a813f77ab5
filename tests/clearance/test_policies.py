"""Policies over HTTP: versions that never change, and figures that cannot be."""

import pytest

from service.core.db import Database
from tests.api import Api
from tests.make_clearance import own_policy
from tests.unchanged import unchanged


def test_the_owner_writes_versions_of_policies_that_never_change(api: Api) -> None:
    body = own_policy(api)
    assert api.manager.post("/policies", body).status_code == 403
    first = api.owner.made("/policies", body)
    body["floor"] |= {"days": 21}
    second = api.owner.made("/policies", body)
    assert (first["version"], second["version"]) == (1, 2)
    assert api.auditor.seen("/policies/own/versions/1")["floor"]["days"] == 14
    assert api.auditor.seen("/policies/own/versions/2")["floor"]["days"] == 21
    assert api.auditor.get("/policies/own/versions/3").status_code == 404
    shown = [(item["code"], item["version"]) for item in api.auditor.seen("/policies")["items"]]
    assert shown == [("own", 1), ("own", 2), ("standard", 3), ("strict", 3)]


@pytest.mark.parametrize(
    ("section", "figure", "value", "pointer"),
    [
        ("sampling", "confidence", 1, "#/sampling/confidence"),
        ("sampling", "confidence", "0.9", "#/sampling/confidence"),
        ("looks", "clean_looks", 0, "#/looks/clean_looks"),
        ("scope", "pests", ["unicorn"], "#/scope/pests"),
        ("floor", "colour", "red", "#/floor/colour"),
        ("hatch", "factor_treated", -1, "#/hatch/factor_treated"),
    ],
)
def test_a_figure_that_cannot_be_is_named_and_nothing_changes(
    api: Api, database: Database, section: str, figure: str, value: object, pointer: str
) -> None:
    body = own_policy(api)
    body[section] |= {figure: value}
    with unchanged(database):
        answer = api.owner.post("/policies", body)
    assert answer.status_code == 422
    assert [error["pointer"] for error in answer.get_json()["errors"]] == [pointer]


def test_a_figure_left_out_is_named(api: Api) -> None:
    body = own_policy(api)
    del body["floor"]["days"]
    [error] = api.owner.post("/policies", body).get_json()["errors"]
    assert error == {"pointer": "#/floor/days", "detail": "Is missing."}
