"""Tubs, water systems, tools and test kits over HTTP."""

from typing import Any

import pytest

from tests.api import Api
from tests.journeys.bench import Bench

TUB = {
    "code": "T1",
    "volume": {"value": 10, "unit": "[gal_us]"},
    "set_point": {"value": 75.2, "unit": "[degF]"},
}


def test_a_tub_is_kept_in_litres_and_degrees_celsius_and_shown_in_either(api: Api) -> None:
    made = api.grower.made("/tubs", TUB)
    assert made["volume"] == {"value": 37.85411784, "unit": "L"}  # NIST HB 44: 1 gal = 3.785411784 L
    assert made["set_point"]["value"] == pytest.approx(24)
    shown = api.grower.seen(f"/tubs/{made['id']}?units=us")
    assert shown["volume"]["unit"] == "[gal_us]"
    assert shown["volume"]["value"] == pytest.approx(10)


@pytest.mark.parametrize(
    ("volume", "pointer"),
    [
        ({"value": 0, "unit": "L"}, "#/volume/value"),
        ({"value": -5, "unit": "L"}, "#/volume/value"),
        ({"value": "NaN", "unit": "L"}, "#/volume/value"),
        ({"value": 5, "unit": "kg"}, "#/volume/unit"),
        ({"value": 5, "unit": "bucket"}, "#/volume/unit"),
        ({"value": 5}, "#/volume/unit"),
    ],
)
def test_a_volume_that_cannot_be_is_refused_by_name(api: Api, volume: Any, pointer: str) -> None:
    answer = api.grower.post("/tubs", {**TUB, "volume": volume})
    assert answer.status_code == 422
    assert answer.get_json()["errors"][0]["pointer"] == pointer


def test_two_tubs_never_have_one_code(api: Api) -> None:
    first = api.grower.made("/tubs", TUB)
    assert api.grower.post("/tubs", TUB).status_code == 409
    api.grower.made("/tubs", {**TUB, "code": "T2"})
    tag = api.grower.get(f"/tubs/{first['id']}").headers["ETag"]
    patch = {"code": "T2"}
    assert (
        api.grower.send("PATCH", f"/tubs/{first['id']}", patch, headers={"If-Match": tag}).status_code == 409
    )


def test_water_is_joined_only_while_a_tub_is_empty(api: Api) -> None:
    bench = Bench(api)
    system = api.grower.made("/water-systems", {"name": "sump A"})["id"]
    assert api.grower.post("/water-systems", {"name": "sump A"}).status_code == 409
    assert [item["id"] for item in api.grower.seen("/water-systems")["items"]] == [system]
    tub = bench.tub("T1")
    join = {"water_system_id": system}

    def change() -> int:
        tag = api.grower.get(f"/tubs/{tub}").headers["ETag"]
        return api.grower.send("PATCH", f"/tubs/{tub}", join, headers={"If-Match": tag}).status_code

    bench.treat("quarantine-only", tub, [bench.lot("anubias-barteri", 5)["id"]], 0.1, [1])
    assert change() == 409
    assert api.grower.post("/tubs", {**TUB, "code": "T9", "water_system_id": tub}).status_code == 422


def test_a_test_kit_is_read(api: Api) -> None:
    tub = Bench(api).tub("T1")
    reading = {"substance": "copper", "value": 0.35, "kit": "drop test", "kit_limit": 0.05}
    made = api.grower.made(f"/tubs/{tub}/measurements", reading)
    assert made["unit"] == "mg/L"
    api.grower.made(f"/tubs/{tub}/measurements", {**reading, "substance": "ph", "value": 7.2})
    shown = api.auditor.seen(f"/tubs/{tub}/measurements?substance=copper")["items"]
    assert [item["value"] for item in shown] == [0.35]
    wrong = api.grower.post(f"/tubs/{tub}/measurements", {**reading, "substance": "ph", "value": 15})
    assert wrong.get_json()["errors"][0]["pointer"] == "#/value"


def test_a_net_carries_the_water_of_one_tub_to_the_lots_of_another(api: Api) -> None:
    bench = Bench(api)
    first, second = bench.tub("T1"), bench.tub("T2")
    lot = bench.lot("anubias-barteri", 5)["id"]
    bench.treat("quarantine-only", second, [lot], 0.1, [1])
    net = api.grower.made("/tools", {"code": "net 1", "kind": "net"})["id"]
    assert api.grower.post("/tools", {"code": "net 1", "kind": "net"}).status_code == 409
    assert [item["code"] for item in api.grower.seen("/tools")["items"]] == ["net 1"]

    def use(tub: str, day: float) -> Any:
        return api.grower.made(f"/tools/{net}/uses", {"tub_id": tub, **bench.when(day)})

    assert not use(first, 1)["contact"]
    assert use(second, 2)["from_tub_id"] == first
    kinds = [item["kind"] for item in api.auditor.seen(f"/lots/{lot}/history")["items"]]
    assert "lot.water_shared" in kinds


def test_a_scalded_net_carries_nothing(api: Api) -> None:
    bench = Bench(api)
    first, second = bench.tub("T1"), bench.tub("T2")
    net = api.grower.made("/tools", {"code": "net 1", "kind": "net"})["id"]
    api.grower.made(f"/tools/{net}/uses", {"tub_id": first, **bench.when(1)})
    bleached = {"method": "bleach", "minutes": 20, **bench.when(1.1)}
    assert not api.grower.made(f"/tools/{net}/disinfections", bleached)["breaks_contact"]
    scalded = {"method": "hot_water", "celsius": 55, "minutes": 10, **bench.when(1.2)}
    assert api.grower.made(f"/tools/{net}/disinfections", scalded)["breaks_contact"]
    assert not api.grower.made(f"/tools/{net}/uses", {"tub_id": second, **bench.when(2)})["contact"]
    cold = {"method": "hot_water", "minutes": 10}
    assert (
        api.grower.post(f"/tools/{net}/disinfections", cold).get_json()["errors"][0]["pointer"] == "#/celsius"
    )
