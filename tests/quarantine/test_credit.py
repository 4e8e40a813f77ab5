"""What treatments do to the clock over HTTP: one that failed, and one that a policy does not believe."""

import pytest

from tests.api import Api
from tests.journeys.bench import Bench
from tests.journeys.test_clearance_journeys import copper_lot
from tests.make_clearance import own_policy
from tests.make_quarantine import quarantined
from tests.quarantine.test_following import winding


@pytest.fixture
def bench(api: Api) -> Bench:
    return Bench(api, age=30)


def test_a_treatment_that_failed_starts_the_clock_anew(bench: Bench) -> None:
    bench.batch("potassium-alum", 1, "kg")
    tub = bench.tub("Q1")
    lot = quarantined(bench, tub)
    winding(bench, tub)
    assert bench.see(lot)["clock_started_at"] == bench.when(3)["at"]
    body = {"protocol": "alum-soak", "version": 1, "tub_id": tub, "lot_ids": [lot], **bench.when(12)}
    soak = f"/treatments/{bench.api.grower.made('/treatments', body)['id']}"
    bench.api.grower.made(f"{soak}/steps/1/start", bench.when(12))
    bench.api.grower.made(f"{soak}/steps/1/finish", bench.when(12.01))
    bench.api.grower.made(f"{soak}/steps/2/start", bench.when(12.02))
    bench.api.grower.made(f"{soak}/abandon", {**bench.when(13), "reason": "the leaves went glassy"})
    assert bench.see(lot)["clock_started_at"] is None  # looks of before say nothing of after
    winding(bench, tub, first=14)
    assert bench.see(lot)["clock_started_at"] == bench.when(14)["at"]


def test_a_kill_counts_only_by_the_grades_of_evidence_that_the_policy_credits(bench: Bench) -> None:
    bench.batch("copper-stock", 2, "L", copper_form="ionic")
    lot, tub = copper_lot(bench, [3, 7, 10, 14])
    bench.logger(tub, 0, 30, 24)
    stern = own_policy(bench.api)
    stern["kill_credit"] |= {"adult_kill_grades": ["B"]}  # copper's adult kill is of grade A here
    bench.api.owner.made("/policies", stern)
    gates = {
        policy: bench.api.grower.seen(f"/lots/{lot}/clearance?policy={policy}")["gates"]
        for policy in ("standard", "own")
    }
    hatch_out = {policy: found[1] for policy, found in gates.items()}
    assert [gate["code"] for gate in hatch_out.values()] == ["hatch_out", "hatch_out"]
    assert hatch_out["standard"]["when"] is not None
    assert hatch_out["own"]["when"] is None
    assert "The treatment copper-course is not over yet" in hatch_out["own"]["reason"]
