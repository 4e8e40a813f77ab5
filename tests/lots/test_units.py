"""Losses, rejection, repacking and splits."""

from typing import Any

import pytest

from service.core.db import Database
from service.lots.models import Lot
from service.lots.queries import contacts_of, lineage, stays_of
from service.lots.rules import State
from service.tubs.models import Tub
from tests.api import Api
from tests.make_lots import brought_to, cleared, hours_ago, line, received_lot, received_lots, tub


def act(api: Api, lot: Any, verb: str, **body: Any) -> Any:
    return api.grower.post(f"/lots/{lot['id']}/{verb}", body)


def problem(answer: Any) -> str:
    assert answer.status_code in {409, 422}, answer.get_json()
    return str(answer.get_json()["type"].rsplit("/", 1)[1])


def reserve(database: Database, lot: Any, quantity: int) -> None:
    with database.writing() as session:
        session.get_one(Lot, lot["id"]).reserved = quantity


def test_a_loss_is_counted_with_its_cause(api: Api) -> None:
    lot = received_lot(api)
    after = act(api, lot, "losses", quantity=3, cause="melt", note="the old leaves").get_json()
    assert (after["quantity"]["lost"], after["quantity"]["left"], after["state"]) == (3, 37, "received")
    entry = api.auditor.seen(f"/lots/{lot['id']}/history")["items"][-1]
    assert entry["kind"] == "lot.lost"
    assert entry["after"] == {"quantity": 3, "left": 37, "cause": "melt", "note": "the old leaves"}


def test_more_than_is_left_and_free_cannot_be_lost(api: Api, database: Database) -> None:
    lot = received_lot(api)
    reserve(database, lot, 10)
    answer = act(api, lot, "losses", quantity=31, cause="melt")
    assert problem(answer) == "not-enough-left"
    [reason] = answer.get_json()["reasons"]
    assert (reason["needed"], reason["have"]) == (31, 30)


def test_a_lot_closes_and_leaves_its_tub_when_nothing_is_left(api: Api, database: Database) -> None:
    place = tub(database, "T1")
    lot = received_lot(api, tub_id=place)
    after = act(api, lot, "losses", quantity=40, cause="broken").get_json()
    assert (after["state"], after["tub_id"]) == ("closed", None)
    kinds = [item["kind"] for item in api.auditor.seen(f"/lots/{lot['id']}/history")["items"]]
    assert kinds[-2:] == ["lot.lost", "lot.state_changed"]
    assert problem(act(api, lot, "losses", quantity=1, cause="melt")) == "lot-ended"
    with database.reading() as session:
        assert session.get_one(Tub, place).filling_since is None


def test_a_cleared_lot_closes_without_its_serial(api: Api, database: Database) -> None:
    lot = received_lot(api)
    cleared(database, lot["id"])
    after = act(api, lot, "losses", quantity=40, cause="other").get_json()
    assert (after["state"], after["certificate_serial"]) == ("closed", None)


def test_a_rejection_is_of_all_that_is_left_and_frees_what_was_promised(api: Api, database: Database) -> None:
    lot = received_lot(api)
    reserve(database, lot, 10)
    way = {"way": "returned", "reason": "snails all over"}
    assert problem(act(api, lot, "rejection", quantity=39, **way)) == "not-all-that-is-left"
    after = act(api, lot, "rejection", quantity=40, **way).get_json()
    assert (after["state"], after["quantity"]["disposed"], after["quantity"]["reserved"]) == (
        "rejected",
        40,
        0,
    )
    assert problem(act(api, lot, "rejection", quantity=1, **way)) == "lot-ended"


def test_dividing_gains_units_and_owes_a_look(api: Api) -> None:
    lot = received_lot(api)
    after = act(
        api, lot, "repack", kind="divide", from_quantity=10, to_quantity=30, to_unit_of_sale="pot"
    ).get_json()
    assert (after["quantity"]["gained"], after["quantity"]["left"]) == (20, 60)
    assert after["repacked_at"] is not None
    assert after["clock_started_at"] == lot["clock_started_at"]


def test_bunches_are_untied_to_stems_and_bunched_again(api: Api) -> None:
    lot = received_lot(api, quantity=4, unit_of_sale="bunch", stems_per_bunch=6)
    loose = act(
        api, lot, "repack", kind="divide", from_quantity=4, to_quantity=24, to_unit_of_sale="stem"
    ).get_json()
    assert (loose["unit_of_sale"], loose["stems_per_bunch"], loose["quantity"]["left"]) == ("stem", None, 24)
    bunch = {"kind": "bunch", "to_unit_of_sale": "bunch", "stems_per_bunch": 8}
    tied = act(api, lot, "repack", from_quantity=24, to_quantity=3, **bunch).get_json()
    assert (tied["unit_of_sale"], tied["stems_per_bunch"], tied["quantity"]["left"]) == ("bunch", 8, 3)
    assert tied["quantity"]["received"] + tied["quantity"]["gained"] == 3


def test_a_miscount_is_a_recount_not_a_loss(api: Api) -> None:
    lot = received_lot(api)
    after = act(api, lot, "repack", kind="recount", from_quantity=40, to_quantity=38).get_json()
    assert (after["quantity"]["gained"], after["quantity"]["lost"], after["quantity"]["left"]) == (-2, 0, 38)
    assert after["repacked_at"] is None
    assert (
        act(api, lot, "repack", kind="recount", from_quantity=38, to_quantity=0).get_json()["state"]
        == "closed"
    )


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"kind": "divide", "to_quantity": 0}, "#/to_quantity"),
        ({"kind": "recount", "to_unit_of_sale": "stem"}, "#/to_unit_of_sale"),
        ({"kind": "divide", "stems_per_bunch": 6}, "#/stems_per_bunch"),
    ],
)
def test_a_repacking_that_makes_no_sense_is_named(api: Api, body: dict[str, Any], pointer: str) -> None:
    lot = received_lot(api)
    answer = act(api, lot, "repack", **{"from_quantity": 1, "to_quantity": 1, **body})
    assert answer.get_json()["errors"][0]["pointer"] == pointer


def test_a_cleared_lot_is_not_repacked(api: Api, database: Database) -> None:
    lot = received_lot(api)
    cleared(database, lot["id"])
    assert problem(act(api, lot, "repack", kind="divide", from_quantity=1, to_quantity=2)) == "lot-cleared"


def test_a_part_becomes_a_lot_of_its_own(api: Api) -> None:
    lot = received_lot(api, hours=3, bag="A", kept_in_wool=True)
    answer = act(api, lot, "splits", quantity=15, reason="two benches")
    child = answer.get_json()
    assert answer.headers["Location"].endswith(f"/lots/{child['id']}")
    assert (child["code"], child["parent_lot_id"]) == (f"{lot['code']}-1", lot["id"])
    assert (child["quantity"]["received"], child["quantity"]["left"]) == (15, 15)
    assert (child["received_at"], child["bag"], child["kept_in_wool"]) == (lot["received_at"], "A", True)
    parent = api.grower.seen(f"/lots/{lot['id']}")
    assert (parent["quantity"]["split_off"], parent["quantity"]["left"]) == (15, 25)
    assert act(api, lot, "splits", quantity=1).get_json()["code"] == f"{lot['code']}-2"
    kinds = [item["kind"] for item in api.auditor.seen(f"/lots/{child['id']}/history")["items"]]
    assert kinds == ["lot.split"]


def test_a_part_takes_over_stays_and_contacts(api: Api, database: Database) -> None:
    one, two = tub(database, "T1"), tub(database, "T2")
    lot, _ = received_lots(api, *[line(api, tub_id=one)] * 2, hours=5, share_water=True)
    child = act(api, lot, "splits", quantity=5, tub_id=two, at=hours_ago(1)).get_json()
    assert child["tub_id"] == two
    with database.reading() as session:
        stays = stays_of(session, [lot["id"], child["id"]])
        contacts = contacts_of(session, [lot["id"], child["id"]])
        assert [stay.tub_id for stay in stays[child["id"]]] == [one, two]
        assert stays[child["id"]][0].entered_at == stays[lot["id"]][0].entered_at
        assert [c.at for c in contacts[child["id"]]] == [c.at for c in contacts[lot["id"]]]
        assert len(contacts[child["id"]]) == 1


def test_a_part_left_in_its_tub_stays_there(api: Api, database: Database) -> None:
    lot = received_lot(api, tub_id=tub(database, "T1"))
    assert act(api, lot, "splits", quantity=5).get_json()["tub_id"] == lot["tub_id"]


def test_splitting_everything_closes_the_parent(api: Api) -> None:
    lot = received_lot(api)
    child = act(api, lot, "splits", quantity=40).get_json()
    assert child["quantity"]["left"] == 40
    assert api.grower.seen(f"/lots/{lot['id']}")["state"] == "closed"


def test_a_lot_is_split_only_when_it_is_free_to(api: Api, database: Database) -> None:
    lot = received_lot(api, hours=5)
    assert problem(act(api, lot, "splits", quantity=41)) == "not-enough-left"
    assert problem(act(api, lot, "splits", quantity=1, at=hours_ago(6))) == "before-its-cause"
    assert problem(act(api, lot, "splits", quantity=1, tub_id=lot["id"])) == "unknown-tub"
    brought_to(database, lot["id"], State.IN_TREATMENT)
    assert problem(act(api, lot, "splits", quantity=1)) == "lot-in-treatment"
    brought_to(database, lot["id"], State.RECEIVED)
    api.grower.made(f"/lots/{lot['id']}/holds", {"cause": "doubt", "reason": "odd eggs"})
    assert problem(act(api, lot, "splits", quantity=1)) == "held"


def test_a_refused_split_leaves_nothing_behind(api: Api, database: Database) -> None:
    place = tub(database, "T1")
    received_lot(api, tub_id=place)
    lot = received_lot(api)
    before = api.auditor.seen("/audit/check")["entries"]
    assert problem(act(api, lot, "splits", quantity=5, tub_id=place)) == "water-shared"
    assert api.grower.seen(f"/lots/{lot['id']}") == lot
    assert len(api.grower.seen("/lots")["items"]) == 2
    assert api.auditor.seen("/audit/check")["entries"] == before


def test_the_line_of_a_part_reaches_back_to_the_first_lot(api: Api, database: Database) -> None:
    lot = received_lot(api, hours=5)
    child = act(api, lot, "splits", quantity=20, at=hours_ago(3)).get_json()
    grandchild = act(api, child, "splits", quantity=10, at=hours_ago(1)).get_json()
    with database.reading() as session:
        line_ = lineage(session, grandchild["id"])
        assert [ancestor for ancestor, _ in line_] == [child["id"], lot["id"]]
        assert line_[0][1] > line_[1][1]
        assert lineage(session, lot["id"]) == []
