"""Official lists that name a plant: what is entered of them has a form, because gates and sales read it."""

from typing import Any

import pytest

from service.catalogue.rules_places import listing
from tests.api import Api

LISTED = {
    "jurisdiction": "US-VT",
    "list": "the state's noxious weed list",
    "source": "its rule 3, schedule A",
}
NEW: dict[str, Any] = {
    "code": "hygrophila-test",
    "scientific_name": "Hygrophila polysperma",
    "growth_form": "stem",
    "look_class": "stem_rosette",
}


def plant(api: Api, *restricted: Any) -> Any:
    return api.manager.made("/plants", {**NEW, "restricted": list(restricted)})


def test_a_list_that_names_a_plant_is_kept_with_its_place_and_source(api: Api) -> None:
    made = plant(api, {**LISTED, "date": "2012"}, LISTED)
    assert made["restricted"] == [{**LISTED, "date": "2012"}, {**LISTED, "date": None}]


def test_a_changed_law_is_entered_into_what_is_known_of_a_plant(api: Api) -> None:
    made = plant(api)
    tag = api.manager.get(f"/plants/{made['id']}").headers["ETag"]
    body = {"restricted": [{**LISTED, "jurisdiction": "EU", "date": "2025-07-17"}]}
    changed = api.manager.send("PATCH", f"/plants/{made['id']}", body, headers={"If-Match": tag})
    assert changed.status_code == 200
    assert changed.get_json()["restricted"] == body["restricted"]


WRONG = [
    ({}, "/jurisdiction"),
    ({**LISTED, "jurisdiction": "Vermont"}, "/jurisdiction"),
    ({**LISTED, "jurisdiction": 5}, "/jurisdiction"),
    ({**LISTED, "list": ""}, "/list"),
    ({**LISTED, "date": "last year"}, "/date"),
    ({**LISTED, "colour": "green"}, "/colour"),
    ("US-VT", ""),
]


@pytest.mark.parametrize(("entry", "where"), WRONG, ids=range(len(WRONG)))
def test_a_list_that_cannot_be_read_is_refused_by_its_place(api: Api, entry: Any, where: str) -> None:
    made = plant(api, LISTED)
    tag = api.manager.get(f"/plants/{made['id']}").headers["ETag"]
    new = api.manager.post("/plants", {**NEW, "code": "another", "restricted": [entry]})
    path, body = f"/plants/{made['id']}", {"restricted": [LISTED, entry]}
    patched = api.manager.send("PATCH", path, body, headers={"If-Match": tag})
    for answer, place in ((new, 0), (patched, 1)):
        assert answer.status_code == 422
        pointers = [error["pointer"] for error in answer.get_json()["errors"]]
        assert f"#/restricted/{place}{where}" in pointers
        assert all(error["detail"] for error in answer.get_json()["errors"])
    assert api.manager.get(f"/plants/{made['id']}").headers["ETag"] == tag


def test_a_list_without_a_date_is_told_without_one(api: Api) -> None:
    """Nobody reads 'as of None' on a statement."""
    assert listing("Hygrophila polysperma", {**LISTED, "date": None}) == (
        "Hygrophila polysperma is on the state's noxious weed list (in US-VT). Check your local list."
    )
