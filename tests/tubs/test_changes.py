"""Tubs are listed and changed; every change says what was before."""

from tests.api import Api
from tests.journeys.bench import Bench


def test_a_tub_is_changed_on_the_version_that_was_seen(api: Api) -> None:
    tub = Bench(api).tub("T1")
    tag = {"If-Match": api.grower.get(f"/tubs/{tub}").headers["ETag"]}
    changes = {"volume": {"value": 38, "unit": "L"}, "set_point": None, "active": False}
    changed = api.grower.send("PATCH", f"/tubs/{tub}", changes, headers=tag)
    assert changed.status_code == 200
    shown = changed.get_json()
    assert (shown["volume"]["value"], shown["set_point"], shown["active"]) == (38, None, False)
    assert api.grower.send("PATCH", f"/tubs/{tub}", changes, headers=tag).status_code == 412
    assert api.grower.send("PATCH", f"/tubs/{tub}", changes).status_code == 428
    last = api.auditor.seen(f"/audit?subject=tub/{tub}")["items"][-1]
    assert last["kind"] == "tub.changed"
    assert last["before"] == {"volume_l": 40.0, "set_point_c": 24.0, "active": True}


def test_tubs_are_listed_by_their_codes(api: Api) -> None:
    bench = Bench(api)
    for code in ("T2", "T1"):
        bench.tub(code)
    assert [item["code"] for item in api.auditor.seen("/tubs")["items"]] == ["T1", "T2"]


def test_an_unknown_tool_is_not_found(api: Api) -> None:
    nowhere = "00000000-0000-7000-8000-000000000000"
    body = {"method": "dried", "minutes": 60}
    assert api.grower.post(f"/tools/{nowhere}/disinfections", body).status_code == 404
