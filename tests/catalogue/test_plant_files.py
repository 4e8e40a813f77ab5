"""Plants as a CSV file: a preview first, then all or nothing, with a line for every bad row."""

from typing import Any

import pytest

from service.catalogue.plant_files import PLANTS
from service.core.db import Database
from tests.api import Api, Client
from tests.unchanged import unchanged

HEADER = "code,scientific_name,growth_form,look_class"
CSV = {"Content-Type": "text/csv"}
GOOD = "bucephalandra-sp,Bucephalandra sp.,rhizome,broad_leaf"


def sent(client: Client, path: str, *rows: str) -> Any:
    return client.send("POST", path, raw="\n".join(rows).encode(), headers=CSV)


def previewed(api: Api, *rows: str) -> Any:
    answer = sent(api.manager, "/plants/import/preview", *rows)
    assert answer.status_code == 200, answer.get_json()
    return answer.get_json()


def test_plants_are_added_as_they_were_previewed(api: Api, database: Database) -> None:
    rows = [
        f"{HEADER},trade_names",
        f'{GOOD},"Buce; Kedagang, red"',
        "riccia,Riccia fluitans,floating,moss_fine,",
    ]
    with unchanged(database):
        shown = previewed(api, *rows)
    assert (shown["ok"], [row["line"] for row in shown["rows"]]) == (True, [2, 3])
    assert shown["rows"][0]["trade_names"] == ["Buce", "Kedagang, red"]
    answer = sent(api.manager, "/plants/import", *rows)
    assert (answer.status_code, answer.get_json()["added"]) == (201, 2)
    for row, plant in zip(shown["rows"], answer.get_json()["plants"], strict=True):
        assert all(plant[name] == value for name, value in row.items() if name != "line")
    history = [entry["kind"] for entry in api.auditor.seen("/audit?limit=200")["items"]]
    assert history[-2:] == ["plant.added", "plant.added"]


@pytest.mark.parametrize(
    ("row", "field"),
    [
        ("Bad Code,Name,stem,broad_leaf", "code"),
        ("anubias-barteri,Anubias barteri,rhizome,broad_leaf", "code"),
        (GOOD, "code"),
        ("other,,stem,broad_leaf", "scientific_name"),
        ("other,Name,stem,needle", "look_class"),
        ("other,Name,stem,broad_leaf,more", None),
    ],
)
def test_a_bad_row_is_named_and_nothing_is_added(
    api: Api, database: Database, row: str, field: str | None
) -> None:
    with unchanged(database):
        shown = previewed(api, HEADER, GOOD, row)
        answer = sent(api.manager, "/plants/import", HEADER, GOOD, row)
    assert [(each["line"], each["field"]) for each in shown["problems"]] == [(3, field)]
    assert (shown["ok"], answer.status_code) == (False, 422)
    pointer = "#/lines/3" if field is None else f"#/lines/3/{field}"
    assert [error["pointer"] for error in answer.get_json()["errors"]] == [pointer]


@pytest.mark.parametrize("content", ["", HEADER, "code,colour\na,red", f"{HEADER},code\n{GOOD},a"])
def test_what_is_no_file_of_plants_is_refused(api: Api, content: str) -> None:
    for path in ("/plants/import", "/plants/import/preview"):
        answer = sent(api.manager, path, content)
        assert (answer.status_code, answer.get_json()["errors"][0]["pointer"]) == (422, "#/lines/1")


def test_too_many_rows_another_kind_and_another_role_are_refused(api: Api) -> None:
    rows = [f"p-{n},Name,stem,broad_leaf" for n in range(PLANTS.most_rows + 1)]
    answer = sent(api.manager, "/plants/import", HEADER, *rows)
    pointer = answer.get_json()["errors"][0]["pointer"]
    assert (answer.status_code, pointer) == (422, f"#/lines/{PLANTS.most_rows + 2}")
    assert api.manager.post("/plants/import", {}).status_code == 415
    assert sent(api.grower, "/plants/import", HEADER, GOOD).status_code == 403
