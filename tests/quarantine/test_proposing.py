"""The look that the service proposes for a lot: by its size, the policy's target, and what is seen."""

from typing import Any

import pytest

from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_lots import plant, received_lot


def proposed(api: Api, lot: Any, policy: str = "standard") -> Any:
    return api.grower.seen(f"/lots/{lot['id']}/clearance?policy={policy}")["look_plan"]


def test_every_unit_of_a_small_lot_is_looked_at(api: Api) -> None:
    shown = proposed(api, received_lot(api, quantity=40))
    assert (shown["lot_size"], shown["sample_size"], shown["methods"]) == (40, 40, ["eyes"])
    assert shown["infested_units_assumed"] == 1
    # all are looked at, so one infested unit is missed exactly as often as a look misses it
    assert shown["achieved_confidence"] == pytest.approx(shown["sensitivity"])
    assert shown["minutes"] == 30  # 40 x 45 s, own assumption
    assert (shown["clean_looks_needed"], shown["next_look_at"] is None) == (2, False)


def test_of_a_large_lot_so_many_that_the_policys_level_is_found(api: Api) -> None:
    shown = proposed(api, received_lot(api, quantity=400))
    assert shown["infested_units_assumed"] == 20  # 5 % of 400
    assert shown["sample_size"] < 400
    assert shown["achieved_confidence"] >= 0.95
    asked = f"lot_size=400&detection_level=0.05&confidence=0.95&sensitivity={shown['sensitivity']}"
    plan = api.grower.seen(f"/sampling-plan?{asked}")
    assert plan["sample_size"] == shown["sample_size"]


def test_bunches_are_told_with_their_stems(api: Api) -> None:
    lot = received_lot(
        api, plant_id=plant(api, "elodea-densa"), quantity=8, unit_of_sale="bunch", stems_per_bunch=6
    )
    shown = proposed(api, lot)
    assert (shown["lot_size"], shown["in_words"]) == (8, "8 bunches (about 48 stems)")
    untied = received_lot(
        api,
        plant_id=plant(api, "elodea-densa"),
        quantity=8,
        unit_of_sale="bunch",
        stems_per_bunch=6,
        untied=True,
    )
    assert (proposed(api, untied)["lot_size"], proposed(api, untied)["sample_size"]) == (48, 48)


def test_what_cannot_be_counted_is_strained_and_baited(api: Api) -> None:
    lot = received_lot(api, plant_id=plant(api, "taxiphyllum-barbieri"), quantity=5, unit_of_sale="portion")
    shown = proposed(api, lot)
    assert (shown["methods"], shown["sample_size"], shown["achieved_confidence"]) == (
        ["strain", "bait"],
        None,
        None,
    )


def test_wool_hides_as_moss_does_and_stages_are_seen_differently(api: Api) -> None:
    """Figures of the reference data; that eggs are seen less well than adults is common practice."""
    open_, wool = (proposed(api, received_lot(api, kept_in_wool=kept)) for kept in (False, True))
    assert wool["sensitivity"] < open_["sensitivity"]
    eyes = {(one["pest"], one["stage"]): one["eyes"] for one in open_["sees"]}
    assert eyes["bladder_snail", "adult"] > eyes["bladder_snail", "egg"]
    assert {pest for pest, _ in eyes} == {"bladder_snail", "ramshorn_snail", "pond_snail"}


def test_the_standard_schedule_is_shown_with_what_was_done_of_it(api: Api) -> None:
    """Full at arrival and the two last, strain at every change, bait before the end (decision 22)."""
    bench = Bench(api)
    lot = bench.ready_lot()
    changed = {"fraction": 0.5, **bench.when(17)}  # a day on which the water was strained
    api.grower.made(f"/tubs/{bench.see(lot)['tub_id']}/water-changes", changed)
    shown = proposed(api, {"id": lot})["schedule"]
    assert [(line["what"], line["method"], line["done"], line["needed"]) for line in shown] == [
        ("arrival", "eyes", 1, 1),
        ("every_water_change", "strain", 1, 1),
        ("before_the_end", "bait", 1, 1),
        ("last", "eyes", 2, 2),
    ]
    assert [line["minutes"] for line in shown] == [15, 5, 5, 15]  # 20 x 45 s; 5: assumption


def test_a_gap_of_more_than_three_weeks_is_shown_with_the_day_of_the_first_possible_new_laying(
    api: Api,
) -> None:
    """A gap of more than 21 days in warm water voids the looks before it (decision 7)."""
    bench = Bench(api)
    tub = bench.tub("G1")
    lot = bench.lot("anubias-barteri", 20)["id"]
    bench.treat("quarantine-only", tub, [lot], 0.1, [1])
    bench.logger(tub, 0, bench.age, 24)
    for day in (5, 8):
        bench.look(day, lot_id=lot, sample_size=20)
    before = proposed(api, {"id": lot})
    assert (before["void"], before["new_laying_from"]) == (None, bench.when(29)["at"])
    bench.look(40, lot_id=lot, sample_size=20)
    after = proposed(api, {"id": lot})
    assert after["void"] == {
        "looks": 2,
        "last_at": bench.when(8)["at"],
        "new_laying_from": bench.when(29)["at"],
    }
    assert after["new_laying_from"] == bench.when(61)["at"]
