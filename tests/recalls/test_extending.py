"""Facts entered late bring more within reach of an open recall; it takes them in before it closes."""

from service.core.db import Database
from tests.api import Api
from tests.make_lots import hours_ago, received_lot, tub
from tests.make_recalls import recall


def test_a_tool_use_entered_late_is_taken_in_before_closing(api: Api, database: Database) -> None:
    one, two = tub(database, "T1"), tub(database, "T2")
    source, target = (received_lot(api, hours=9, tub_id=place)["id"] for place in (one, two))
    path = f"/recalls/{recall(api, lot_id=source)['id']}"
    assert api.grower.post(f"{path}/extension").get_json()["reasons"][0]["code"] == "nothing-new"
    net = api.grower.made("/tools", {"code": "N1", "kind": "net"})["id"]
    for place, hours in ((one, 3), (two, 2)):
        api.grower.made(f"/tools/{net}/uses", {"tub_id": place, "at": hours_ago(hours)})
    assert api.grower.seen(path)["progress"]["newly_within_reach"] == 1
    api.grower.made("/inspections", {"lot_id": source, "sample_size": 40, "findings": []})
    end = {"conclusion": "Nothing was found."}
    refused = api.manager.post(f"{path}/closing", end)
    assert [reason["code"] for reason in refused.get_json()["reasons"]] == ["reach-grown"]
    assert api.grower.post(f"{path}/extension", {}, If_Match='"old"').status_code == 412
    assert api.shop.post(f"{path}/extension").status_code == 403
    extended = api.grower.made(f"{path}/extension")
    assert [item["lot_id"] for item in extended["lots"]] == [source, target]
    assert extended["progress"]["newly_within_reach"] == 0
    assert [hold["cause"] for hold in api.grower.seen(f"/lots/{target}")["holds"]] == ["recall"]
    owed = api.manager.post(f"{path}/closing", end).get_json()["reasons"]
    assert [reason["code"] for reason in owed] == ["look-owed"]
    api.grower.made("/inspections", {"lot_id": target, "sample_size": 40, "findings": []})
    api.manager.made(f"{path}/closing", end)
    assert api.grower.post(f"{path}/extension").status_code == 409


def test_a_lot_reached_earlier_than_was_known_is_followed_from_then(api: Api, database: Database) -> None:
    one, two = tub(database, "T1"), tub(database, "T2")
    source, target = (received_lot(api, hours=9, tub_id=place)["id"] for place in (one, two))
    net = api.grower.made("/tools", {"code": "N1", "kind": "net"})["id"]
    for place, hours in ((one, 3), (two, 2)):
        api.grower.made(f"/tools/{net}/uses", {"tub_id": place, "at": hours_ago(hours)})
    path = f"/recalls/{recall(api, lot_id=source)['id']}"
    before = api.grower.seen(path)["lots"][1]
    for place, hours in ((one, 7), (two, 6)):
        api.grower.made(f"/tools/{net}/uses", {"tub_id": place, "at": hours_ago(hours)})
    after = api.grower.made(f"{path}/extension")["lots"][1]
    assert before["lot_id"] == after["lot_id"] == target
    assert after["reached_at"] < before["reached_at"]
    assert len(api.grower.seen(f"/lots/{target}")["holds"]) == 1
