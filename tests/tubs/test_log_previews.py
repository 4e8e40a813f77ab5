"""A logger's file shown before it is kept: what it would bring, or every bad row."""

from typing import Any

import pytest

from service.core.db import Database
from tests.api import Api
from tests.make_lots import hours_ago, tub
from tests.unchanged import unchanged

CSV = {"Content-Type": "text/csv"}


def sent(api: Api, path: str, *rows: str) -> Any:
    return api.grower.send("POST", path, raw="\n".join(rows).encode(), headers=CSV)


@pytest.fixture
def path(database: Database) -> str:
    return f"/tubs/{tub(database, 'T1')}/temperatures"


def test_a_file_is_kept_as_it_was_previewed(api: Api, database: Database, path: str) -> None:
    rows = ["at,value", *(f"{hours_ago(n)},21.{n}" for n in (3, 2, 1))]
    sent(api, path, *rows[:2])
    with unchanged(database):
        answer = sent(api, f"{path}/preview", *rows)
    shown = answer.get_json()
    assert (answer.status_code, shown["ok"], shown["problems"]) == (200, True, [])
    assert (shown["recorded"], shown["repeated"]) == (2, 1)
    told = sent(api, path, *rows).get_json()
    assert {name: told[name] for name in ("recorded", "repeated", "from", "to")} == {
        name: shown[name] for name in ("recorded", "repeated", "from", "to")
    }


@pytest.mark.parametrize(
    "row", ["yesterday,21", "2090-01-01T00:00:00Z,21", "{now},warm", "{now},99", "{now}"]
)
def test_every_bad_row_is_named_and_nothing_is_kept(
    api: Api, database: Database, path: str, row: str
) -> None:
    rows = ["at,value", f"{hours_ago(1)},21", row.format(now=hours_ago(2))]
    with unchanged(database):
        shown, answer = sent(api, f"{path}/preview", *rows).get_json(), sent(api, path, *rows)
    assert (shown["ok"], [each["line"] for each in shown["problems"]]) == (False, [3])
    assert all(each["detail"] for each in shown["problems"])
    assert answer.status_code == 422


def test_a_moment_that_the_tub_has_another_value_for_names_its_line(api: Api, path: str) -> None:
    at = hours_ago(1)
    sent(api, path, "at,value", f"{at},21")
    shown = sent(api, f"{path}/preview", "at,value", f"{at},23").get_json()
    assert [(each["line"], each["code"]) for each in shown["problems"]] == [(2, "reading-differs")]


def test_what_is_no_log_is_refused(api: Api, path: str) -> None:
    assert sent(api, f"{path}/preview", "when,what").get_json()["problems"][0]["line"] == 1
    answer = api.grower.send("POST", f"{path}/preview", raw=b"\xff", headers=CSV)
    assert answer.status_code == 422
    assert api.grower.post(f"{path}/preview", {}).status_code == 415
