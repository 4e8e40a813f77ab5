"""A house in which something of everything has happened, for the pages."""

from dataclasses import dataclass
from typing import Any

from tests.api import Api
from tests.journeys.bench import LATE, Bench
from tests.make_photos import PDF, encoded, half_and_half, kept, sent
from tests.make_trials import a_read_trial

DAYS, TRIAL_DAY = 50, 30


@dataclass(frozen=True)
class House:
    """Ids of what stands in it."""

    bench: Bench
    cleared: str
    waiting: str
    fresh: str
    course: str
    soaking: str
    tubs: dict[str, str]
    batches: dict[str, str]
    recall: str


def a_house(api: Api) -> House:
    """A cleared lot and sales of it, a lot with a find, a running course and soak, a recall."""
    bench = Bench(api, DAYS)
    tubs = {code: bench.tub(code, place="by the window") for code in ("T1", "T2", "T3", "T4", "T10")}
    batches = {
        "alum": bench.batch("potassium-alum", 2, "kg")["id"],
        "copper": bench.batch("copper-stock", 1, "L", copper_form="ionic")["id"],
        "bleach": bench.batch(
            "bleach", 2, "L", strength={"value": 6, "basis": "naocl_ww"}, made_on=bench.when(0)["at"][:10]
        )["id"],
        "thiosulfate": bench.batch("thiosulfate", 500, "g")["id"],
    }
    cleared = bench.cleared_lot(30, tubs["T1"])
    line = {"lot_id": cleared, "quantity": 6}
    bench.api.shop.made("/dispatches", {"order_ref": "W-1", "customer_ref": "customer 17", "lines": [line]})
    waiting = str(bench.lot("leptochilus-pteropus", 20, day=20)["id"])
    bench.treat("quarantine-only", tubs["T2"], [waiting], 20.1, [1])
    bench.logger(tubs["T2"], 20, DAYS, 23)
    find = {"pest": "ramshorn_snail", "stage": "adult", "live": 2, "dead": 0, "removed": True}
    bench.look(30, lot_id=waiting, sample_size=20, findings=[find])
    _ripening(bench, tubs["T4"])
    course = _course(bench, tubs["T3"])
    soaking = _soaking(bench, tubs["T10"])
    fresh = str(bench.lot("cryptocoryne-wendtii", 40, day=DAYS - 1)["id"])
    recall = bench.api.manager.made("/recalls", {"lot_id": waiting, "reason": "a snail in the order W-1"})
    return House(bench, cleared, waiting, fresh, course, soaking, tubs, batches, recall["id"])


def a_full_house(api: Api) -> House:
    """The same with a trial that was read, an order, and what is no ordinary lot."""
    house = a_house(api)
    a_read_trial(house.bench, TRIAL_DAY)
    line = {"lot_id": house.cleared, "quantity": 4}
    api.shop.made("/reservations", {"order_ref": "W-3", "customer_ref": "customer 21", "lines": [line]})
    _tried_on_a_few(house)
    _odd(house)
    photographed(api)
    return house


def _tried_on_a_few(house: House) -> None:
    """Trial stems of one lot that wait for day 7, and shrimp that lived in its soak water."""
    bench, lot = house.bench, f"/lots/{house.waiting}"
    stems = {"protocol": "bleach-dip", "version": 1, "stems": 2, **bench.when(DAYS - 5)}
    trial = bench.api.grower.made(f"{lot}/trial-stems", stems)
    bench.api.grower.made(f"/trial-stems/{trial['id']}/judgements", {"alive": 2, **bench.when(DAYS - 2)})
    shrimp = {"animal": "shrimp", "animals": 5, "alive": 5, "started_at": bench.when(DAYS - 4)["at"]}
    bench.api.grower.made(f"{lot}/animal-tests", {**shrimp, **bench.when(DAYS - 1)})


def _odd(house: House) -> None:
    """A lot of two layers, and four pots that a customer sent back."""
    bench = house.bench
    layers = [{"name": "top", "quantity": 30}, {"name": "bottom", "quantity": 20}]
    bench.lot("cryptocoryne-wendtii", 50, day=DAYS - 1, strata=layers)
    sent = next(one for one in bench.api.seller.seen("/dispatches")["items"] if one["order_ref"] == "W-1")
    lines = [{"lot_id": house.cleared, "quantity": 4}]
    back = {"dispatch_id": sent["id"], "lines": lines, "reason": "he ordered too many"}
    bench.api.grower.made("/returns", back)


def photographed(api: Api) -> None:
    """Every look and every shipment with photos, one of them void, and a paper as PDF."""
    right, wrong = kept(api), kept(api, encoded(half_and_half(60, 20)))
    paper = sent(api, PDF, "application/pdf").get_json()
    looks = [f"/inspections/{one['id']}" for one in api.auditor.seen("/inspections?limit=200")["items"]]
    shipments = [f"/shipments/{one['id']}" for one in api.auditor.seen("/shipments?limit=200")["items"]]
    named = [{"sha256": one["sha256"]} for one in (right, wrong)]
    for path in (*looks, *shipments):
        more = [{"sha256": paper["sha256"], "kind": "plant_passport"}] if path in shipments else []
        api.grower.made(f"{path}/photos", {"photos": named + more})
        api.grower.made(f"{path}/photos/{wrong['sha256']}/void", {"reason": "of another lot"})


def _ripening(bench: Bench, tub: str) -> None:
    """A lot whose clock runs: its day of release is to come."""
    lot = str(bench.lot("anubias-barteri", 25, day=26)["id"])
    bench.treat("quarantine-only", tub, [lot], 26.1, [1])
    bench.logger(tub, 26, DAYS, 22.5)
    eggs = {"pest": "bladder_snail", "stage": "egg", "live": 2, "dead": 0, "removed": True}
    bench.look(27, lot_id=lot, sample_size=25, findings=[eggs])
    for day in (30, 34, 38, 42, 46):
        bench.look(day, tub_id=tub, method="strain")
        bench.api.grower.made(f"/tubs/{tub}/water-changes", {"fraction": 1.0, **bench.when(day + 0.01)})


def _course(bench: Bench, tub: str) -> str:
    """Copper in a tub since four days: its water change is due."""
    lot = str(bench.lot("aquarius-grisebachii", 12, day=DAYS - 5)["id"])
    day = DAYS - 4.5
    body: dict[str, Any] = {
        "protocol": "copper-course",
        "version": 1,
        "tub_id": tub,
        "lot_ids": [lot],
        "trial_stems_reason": "five stems stood it",
        "survived_here": 5,
        **bench.when(day),
    }
    treatment = str(bench.api.grower.made("/treatments", body)["id"])
    path = f"/treatments/{treatment}/steps"
    bench.api.grower.made(f"{path}/1/start", bench.when(day))
    bench.api.grower.made(f"{path}/1/finish", bench.when(day + 0.01))
    bench.api.grower.made(f"{path}/2/start", bench.when(day + 0.02))
    return treatment


def _soaking(bench: Bench, tub: str) -> str:
    """A bleach dip whose rinse runs now."""
    lot = str(bench.lot("anubias-barteri", 10, day=DAYS - 1)["id"])
    body = {
        "protocol": "bleach-dip",
        "version": 1,
        "tub_id": tub,
        "lot_ids": [lot],
        "water_volume": {"value": 6, "unit": "L"},
        "late_reason": LATE,
    }
    treatment = str(bench.api.grower.made("/treatments", body)["id"])
    bench.api.grower.made(f"/treatments/{treatment}/steps/1/start", {})
    return treatment
