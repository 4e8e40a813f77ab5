"""Stops on a lot: easy to place, harder to lift."""

from service.core.db import Database
from tests.api import Api
from tests.make_lots import cleared, hours_ago, received_lot

BODY = {"cause": "doubt", "reason": "eggs under a leaf"}


def test_a_hold_leaves_the_state_as_it_is(api: Api, database: Database) -> None:
    lot = received_lot(api)
    cleared(database, lot["id"])
    hold = api.seller.made(f"/lots/{lot['id']}/holds", BODY)
    shown = api.grower.seen(f"/lots/{lot['id']}")
    assert shown["state"] == "cleared"
    assert shown["holds"] == [{"id": hold["id"], "cause": "doubt", "since": hold["since"]}]


def test_several_holds_are_shown_oldest_first(api: Api) -> None:
    lot = received_lot(api, hours=5)
    for cause, hours in (("second", 1), ("first", 3)):
        api.grower.made(f"/lots/{lot['id']}/holds", {**BODY, "cause": cause, "at": hours_ago(hours)})
    assert [hold["cause"] for hold in api.grower.seen(f"/lots/{lot['id']}")["holds"]] == ["first", "second"]


def test_a_manager_lifts_a_hold_of_the_version_he_saw_and_says_why(api: Api) -> None:
    lot = received_lot(api)
    hold = api.grower.made(f"/lots/{lot['id']}/holds", BODY)
    path = f"/lots/{lot['id']}/holds/{hold['id']}?reason=only+debris"
    tag = api.manager.get(f"/lots/{lot['id']}").headers["ETag"]
    assert api.grower.send("DELETE", path, headers={"If-Match": tag}).status_code == 403
    assert api.manager.send("DELETE", path).status_code == 428
    assert api.manager.send("DELETE", path, headers={"If-Match": '"old-1"'}).status_code == 412
    silent = api.manager.send("DELETE", path.split("?", maxsplit=1)[0], headers={"If-Match": tag})
    assert silent.status_code == 422
    lifted = api.manager.send("DELETE", path, headers={"If-Match": tag})
    assert lifted.get_json()["holds"] == []
    again = api.manager.send("DELETE", path, headers={"If-Match": lifted.headers["ETag"]})
    assert again.get_json()["type"] == "/problems/hold-lifted"
    kinds = [item["kind"] for item in api.auditor.seen(f"/lots/{lot['id']}/history")["items"]]
    assert kinds[-2:] == ["lot.held", "lot.hold_lifted"]


def test_a_hold_of_another_lot_is_not_found(api: Api) -> None:
    one, other = received_lot(api), received_lot(api)
    hold = api.grower.made(f"/lots/{one['id']}/holds", BODY)
    tag = api.manager.get(f"/lots/{other['id']}").headers["ETag"]
    path = f"/lots/{other['id']}/holds/{hold['id']}?reason=typing"
    assert api.manager.send("DELETE", path, headers={"If-Match": tag}).status_code == 404


def test_a_lot_that_has_ended_or_is_not_here_yet_is_not_held(api: Api) -> None:
    lot = received_lot(api, hours=2)
    path = f"/lots/{lot['id']}"
    assert api.grower.post(f"{path}/holds", {**BODY, "at": hours_ago(3)}).status_code == 422
    api.grower.made(f"{path}/losses", {"quantity": 40, "cause": "melt"})
    assert api.grower.post(f"{path}/holds", BODY).get_json()["type"] == "/problems/lot-ended"


def test_a_shop_places_no_holds(api: Api) -> None:
    lot = received_lot(api)
    assert api.shop.post(f"/lots/{lot['id']}/holds", BODY).status_code == 403
