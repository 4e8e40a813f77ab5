"""What no look finds is printed, and what hides by day is looked for by night (decisions 10 and 11)."""

from tests.api import Api
from tests.clearance.test_certificates import statement
from tests.journeys.bench import Bench
from tests.make_clearance import decide, ready
from tests.make_inspections import found


def test_the_statement_prints_that_damselfly_eggs_are_not_covered(bench: Bench) -> None:
    lot = bench.see(bench.cleared_lot())
    shown = bench.api.auditor.seen(f"/certificates/{lot['certificate_serial']}")
    said = statement(bench.api, shown["jws"])["statement"]
    assert any(sentence.startswith("Damselfly eggs lie inside the plant") for sentence in said)


def test_there_are_two_policies_and_no_others(api: Api) -> None:
    kept = {one["code"]: one["freedom"]["target"] for one in api.auditor.seen("/policies")["items"]}
    assert kept == {"standard": 0.95, "strict": 0.98}


def nights(bench: Bench, lot: str) -> tuple[int, int]:
    """How many baits left overnight the schedule of looks has, and how many it asks for."""
    schedule = bench.api.auditor.seen(f"/lots/{lot}/clearance")["look_plan"]["schedule"]
    [line] = [line for line in schedule if line["what"] == "nights"]
    return line["done"], line["needed"]


def test_after_a_trumpet_snail_three_clean_baits_overnight_are_owed(bench: Bench) -> None:
    tub = bench.tub("N1")
    bench.logger(tub, 0, bench.age, 24)
    lot = ready(bench, tub, told={"bag": None})
    assert bench.gates(lot)["clean_inspections"]["ok"]
    bench.look(0.2, lot_id=lot, sample_size=20, findings=[found("trumpet_snail", live=0, dead=1)])
    shut = bench.gates(lot)["clean_inspections"]
    assert not shut["ok"]
    assert shut["reason"].startswith("3 clean baits left overnight are owed")
    assert decide(bench, lot).status_code == 409
    assert nights(bench, lot) == (0, 3)
    for day in (46, 47, 48):
        bench.look(day, tub_id=tub, method="bait_night")
    assert bench.gates(lot)["clean_inspections"]["ok"]
    assert nights(bench, lot) == (3, 3)
