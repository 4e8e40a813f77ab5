"""Tools: what is entered late is held against what followed."""

from typing import Any

from service.core.db import Database
from tests.api import Api
from tests.make_lots import LATE, hours_ago, received_lot, tub, water_system


def net(api: Api) -> str:
    return str(api.grower.made("/tools", {"code": "net 1", "kind": "net"})["id"])


def use(api: Api, tool: str, tub_id: str, hours: float) -> Any:
    body = {"tub_id": tub_id, "at": hours_ago(hours), "late_reason": LATE}
    return api.grower.made(f"/tools/{tool}/uses", body)


def contacts(api: Api, lot: Any) -> int:
    kinds = [item["kind"] for item in api.auditor.seen(f"/lots/{lot['id']}/history")["items"]]
    return kinds.count("lot.water_shared")


def test_a_use_entered_late_reaches_the_tub_the_tool_went_to_next(api: Api, database: Database) -> None:
    first, second, tool = tub(database, "T1"), tub(database, "T2"), net(api)
    lot = received_lot(api, tub_id=second, hours=20)
    use(api, tool, second, 10)
    assert contacts(api, lot) == 0
    assert not use(api, tool, first, 12)["contact"]
    assert contacts(api, lot) == 1


def test_only_the_next_use_is_judged_again(api: Api, database: Database) -> None:
    first, second, tool = tub(database, "T1"), tub(database, "T2"), net(api)
    lot = received_lot(api, tub_id=second, hours=20)
    use(api, tool, first, 12)
    use(api, tool, second, 10)
    use(api, tool, first, 15)
    assert contacts(api, lot) == 1


def test_one_water_system_is_one_water(api: Api, database: Database) -> None:
    system, tool = water_system(database), net(api)
    first, second = tub(database, "S1", system=system), tub(database, "S2", system=system)
    use(api, tool, first, 12)
    assert not use(api, tool, second, 10)["contact"]


def test_scalding_entered_late_undoes_no_contact(api: Api, database: Database) -> None:
    first, second, tool = tub(database, "T1"), tub(database, "T2"), net(api)
    lot = received_lot(api, tub_id=second, hours=20)
    use(api, tool, first, 12)
    use(api, tool, second, 10)
    scalded = {"method": "hot_water", "celsius": 55, "minutes": 10, "at": hours_ago(11)}
    assert api.grower.made(f"/tools/{tool}/disinfections", scalded)["breaks_contact"]
    assert contacts(api, lot) == 1


def test_an_unknown_tub_is_named(api: Api) -> None:
    body = {"tub_id": "00000000-0000-7000-8000-000000000000"}
    answer = api.grower.post(f"/tools/{net(api)}/uses", body)
    assert answer.status_code == 422
    assert answer.get_json()["errors"][0]["pointer"] == "#/tub_id"


def test_what_a_tool_carries_is_seen_at_its_address(api: Api, database: Database) -> None:
    here, tool = tub(database, "T1"), net(api)
    assert api.auditor.seen(f"/tools/{tool}")["carries_water_of"] is None
    use(api, tool, here, 3)
    assert api.auditor.seen(f"/tools/{tool}")["carries_water_of"] == here


def test_a_water_system_is_found_where_it_was_made(api: Api) -> None:
    made = api.grower.post("/water-systems", {"name": "sump A"})
    assert api.grower.seen(made.headers["Location"].removeprefix("/api/v1"))["name"] == "sump A"
    assert api.grower.get("/water-systems/00000000-0000-7000-8000-000000000000").status_code == 404
