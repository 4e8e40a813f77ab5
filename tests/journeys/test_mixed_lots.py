"""Mixed lots over HTTP: kinds apart, layers each looked at, and the worst of what cannot be told apart."""

from typing import Any

from service.core.db import Database
from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_lots import line, plant, received_lot, received_lots, shipment_body, tub
from tests.unchanged import unchanged

LAYERS = [{"name": "top", "quantity": 300}, {"name": "bottom", "quantity": 100}]


def layered(api: Api) -> Any:
    return received_lot(api, hours=2, quantity=400, strata=LAYERS)


def plan(api: Api, lot: Any) -> Any:
    return api.grower.seen(f"/lots/{lot['id']}/clearance")["look_plan"]


def look_body(lot: Any, **looked_at: int) -> dict[str, Any]:
    strata = [{"name": name, "looked_at": units} for name, units in looked_at.items()]
    return {"lot_id": lot["id"], "strata": strata, "findings": []}


def test_kinds_that_were_counted_become_lots_of_their_own(api: Api, database: Database) -> None:
    place, moss = tub(database, "M1"), plant(api, "taxiphyllum-barbieri")
    strata = [{"name": "a", "quantity": 30}, {"name": "b", "quantity": 10, "plant_id": moss}]
    lots = received_lots(api, line(api, strata=strata, tub_id=place))
    assert [lot["plant"]["id"] for lot in lots] == [plant(api), moss]
    assert [lot["quantity"]["received"] for lot in lots] == [30, 10]
    # they came in one water: no clock of theirs starts anew in one tub
    assert {(lot["bag"], lot["tub_id"]) for lot in lots} == {("mixed line 1", place)}


def test_a_look_at_some_of_a_lot_with_parts_counts_when_each_is_in_it(api: Api) -> None:
    lot = layered(api)
    wanted = {part["name"]: part["look_at"] for part in plan(api, lot)["strata"]}
    assert wanted["top"] >= 3 * (wanted["bottom"] - 1)
    assert sum(wanted.values()) == plan(api, lot)["sample_size"] < 400
    made = api.grower.made("/inspections", look_body(lot, **wanted))
    assert made["sample_size"] == sum(wanted.values())
    assert {part["name"]: part["looked_at"] for part in made["strata"]} == wanted


def test_only_looks_that_take_in_each_part_are_counted(api: Api) -> None:
    bench = Bench(api, 50)
    place = bench.tub("Q1")
    lot = bench.lot("anubias-barteri", 400, strata=LAYERS)
    bench.treat("quarantine-only", place, [lot["id"]], 0.1, [1])
    bench.logger(place, 0, 50, 24)
    bench.strain(place, 3, 44)

    def clean_looks() -> Any:
        return bench.gates(lot["id"])["clean_inspections"]["have"]

    top_only = [{"name": "top", "looked_at": 300}]
    bench.look(45, lot_id=lot["id"], strata=top_only)
    assert clean_looks() == 0
    both = [{"name": "top", "looked_at": 200}, {"name": "bottom", "looked_at": 80}]
    bench.look(46, lot_id=lot["id"], strata=both)
    assert clean_looks() == 1


def test_wrong_parts_are_refused_with_their_place(api: Api, database: Database) -> None:
    lot = layered(api)
    with unchanged(database):
        refused = api.grower.post("/inspections", look_body(lot, top=5, side=1))
    assert refused.status_code == 422
    assert refused.get_json()["errors"][0]["pointer"] == "#/strata/1/name"
    wrong = [{"name": "top", "quantity": 300}, {"name": "bottom", "quantity": 99}]
    with unchanged(database):
        refused = api.grower.post("/shipments", shipment_body(api, line(api, quantity=400, strata=wrong)))
    assert refused.status_code == 422
    assert refused.get_json()["errors"][0]["pointer"] == "#/lines/0/strata"


def test_an_unknown_kind_is_refused_where_it_is_named(api: Api, database: Database) -> None:
    nobody = "00000000-0000-7000-8000-000000000000"
    strata = [{"name": "a"}, {"name": "b", "plant_id": nobody}]
    body = shipment_body(api, line(api, strata=strata))
    with unchanged(database):
        refused = api.grower.post("/shipments", body)
    assert refused.get_json()["errors"][0]["pointer"] == "#/lines/0/strata/1/plant_id"


def test_of_kinds_that_were_not_told_apart_the_worst_counts(api: Api) -> None:
    """The sensitivities are of the reference data; that moss hides most is common practice."""
    moss, alone = plant(api, "taxiphyllum-barbieri"), received_lot(api)
    mixed = received_lot(api, strata=[{"name": "a"}, {"name": "b", "plant_id": moss}])
    assert plan(api, mixed)["sensitivity"] < plan(api, alone)["sensitivity"]
    assert plan(api, mixed)["methods"] == ["strain", "bait"]


def test_a_method_that_one_of_the_kinds_must_avoid_is_refused_for_all(api: Api, database: Database) -> None:
    moss = plant(api, "taxiphyllum-barbieri")
    tag = api.manager.get(f"/plants/{moss}").headers["ETag"]
    avoids = {"level": "avoid", "source": "own experience"}
    api.manager.send("PUT", f"/plants/{moss}/tolerances/quarantine_only", avoids, headers={"If-Match": tag})
    alone, mixed = (
        received_lot(api),
        received_lot(api, strata=[{"name": "a"}, {"name": "b", "plant_id": moss}]),
    )
    body = {"protocol": "quarantine-only", "version": 1, "tub_id": tub(database, "M2")}
    refused = api.grower.post("/treatments", {**body, "lot_ids": [mixed["id"]]})
    assert (refused.status_code, refused.get_json()["type"]) == (409, "/problems/plant-avoids-method")
    api.grower.made("/treatments", {**body, "lot_ids": [alone["id"]]})


def test_repacked_kinds_are_known_but_no_longer_counted(api: Api) -> None:
    lot = layered(api)
    body = {"kind": "divide", "from_quantity": 400, "to_quantity": 800}
    api.grower.made(f"/lots/{lot['id']}/repack", body)
    assert api.grower.seen(f"/lots/{lot['id']}")["strata"] == []
