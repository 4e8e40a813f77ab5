"""Which looks count for which lot."""

from typing import Any

from service.core.db import Database
from service.inspections.queries import looks_of
from service.inspections.rules import Look
from tests.api import Api
from tests.inspections.test_looks import pair_in_one_water
from tests.make_inspections import found, look
from tests.make_lots import LATE, hours_ago, received_lot, tub


def counted(database: Database, lot: Any) -> list[Look]:
    with database.reading() as session:
        return looks_of(session, [lot["id"]])[lot["id"]]


def ids(api: Api, lot: Any) -> list[str]:
    return [item["id"] for item in api.auditor.seen(f"/inspections?lot={lot['id']}")["items"]]


def moved(api: Api, lot: Any, tub_id: str, hours: float) -> None:
    body = {"to": lot["state"], "tub_id": tub_id, "at": hours_ago(hours), "late_reason": LATE}
    api.grower.made(f"/lots/{lot['id']}/moves", body)


def test_a_look_says_what_it_saw(api: Api, database: Database) -> None:
    lot = received_lot(api, hours=6)
    look(api, found(live=0, dead=2), lot_id=lot["id"], sample_size=30)
    [seen] = counted(database, lot)
    assert (seen.method, seen.sample_size, seen.lot_size) == ("eyes", 30, 40)
    assert (seen.full, seen.clean, seen.whole_tub) == (False, True, False)
    assert (seen.findings[0].pest, seen.findings[0].dead) == ("bladder_snail", 2)


def test_looks_at_water_count_while_the_lot_is_in_it(api: Api, database: Database) -> None:
    first, second = tub(database, "B1"), tub(database, "B2")
    lot = received_lot(api, tub_id=first, hours=20)
    early = look(api, tub_id=first, method="strain", hours=15)
    moved(api, lot, second, 10)
    look(api, tub_id=first, method="strain", hours=5)
    late = look(api, lot_id=lot["id"], method="bait", hours=4)
    assert [seen.inspection_id for seen in counted(database, lot)] == [early["id"], late["id"]]
    assert ids(api, lot) == [early["id"], late["id"]]
    assert all(seen.whole_tub for seen in counted(database, lot))


def test_in_shared_water_a_find_counts_for_all_and_a_clean_look_for_its_tub(
    api: Api, database: Database
) -> None:
    first, second, tub_id, _ = pair_in_one_water(api, database)
    clean = look(api, tub_id=tub_id, method="strain", hours=3)
    find = look(api, found(), tub_id=tub_id, method="strain", hours=2)
    assert [seen.inspection_id for seen in counted(database, first)] == [clean["id"], find["id"]]
    assert [seen.inspection_id for seen in counted(database, second)] == [find["id"]]
    assert ids(api, second) == [find["id"]]


def test_a_strain_at_a_lot_counts_for_its_neighbour_in_the_tub(api: Api, database: Database) -> None:
    tub_id = tub(database, "B1")
    lot = received_lot(api, tub_id=tub_id, hours=6)
    made = look(api, lot_id=lot["id"], method="strain", hours=2)
    assert [item["id"] for item in api.auditor.seen("/inspections")["items"]] == [made["id"]]
    assert api.auditor.seen(f"/inspections?tub={tub_id}")["items"] == []
    assert [seen.inspection_id for seen in counted(database, lot)] == [made["id"]]


def test_a_part_takes_over_the_looks_before_the_split(api: Api, database: Database) -> None:
    lot = received_lot(api, hours=20)
    before = look(api, lot_id=lot["id"], sample_size=40, hours=10)
    split = {"quantity": 5, "at": hours_ago(8), "reason": "for the shop"}
    child = api.grower.made(f"/lots/{lot['id']}/splits", split)
    look(api, lot_id=lot["id"], sample_size=35, hours=2)
    assert [seen.inspection_id for seen in counted(database, child)] == [before["id"]]
    assert len(counted(database, lot)) == 2


def test_a_voided_look_counts_no_more_and_stays_on_the_list(api: Api, database: Database) -> None:
    lot = received_lot(api, hours=6)
    made = look(api, lot_id=lot["id"], sample_size=40)
    voided = api.grower.made(f"/inspections/{made['id']}/void", {"reason": "it was the other tray"})
    assert voided["void_reason"] == "it was the other tray"
    assert counted(database, lot) == []
    assert ids(api, lot) == [made["id"]]


def test_a_find_at_the_very_moment_a_lot_leaves_is_a_find_in_its_water(api: Api, database: Database) -> None:
    first, second = tub(database, "B1"), tub(database, "B2")
    lot = received_lot(api, tub_id=first, hours=20)
    body = {"to": lot["state"], "tub_id": second, "at": hours_ago(10)}
    api.grower.made(f"/lots/{lot['id']}/moves", body)
    strain = {"tub_id": first, "method": "strain", "at": body["at"]}
    api.grower.made("/inspections", {**strain, "findings": []})
    find = api.grower.made("/inspections", {**strain, "findings": [found()]})
    assert [seen.inspection_id for seen in counted(database, lot)] == [find["id"]]
    assert ids(api, lot) == [find["id"]]


def test_pages_of_looks_carry_their_findings(api: Api) -> None:
    lot = received_lot(api, hours=6)
    for hours in (3, 2, 1):
        look(api, found("ostracod"), lot_id=lot["id"], sample_size=1, hours=hours)
    first = api.auditor.seen("/inspections?limit=2")
    rest = api.auditor.seen(f"/inspections?limit=2&cursor={first['next']}")
    assert [len(item["findings"]) for item in [*first["items"], *rest["items"]]] == [1, 1, 1]
