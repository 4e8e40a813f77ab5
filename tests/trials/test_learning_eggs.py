"""Refitted thresholds become the house's own figures: the clock uses them, old decisions stay."""

from dataclasses import replace
from datetime import datetime, timedelta
from typing import Any

import pytest

from service.catalogue.adoption import adopt_pests
from service.core.clock import utc_now
from service.core.db import Database
from service.journal.acts import Act
from service.reference.loader import shipped
from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_clearance import own_policy
from tests.make_quarantine import listed, quarantined, work_done
from tests.make_trials import ALUM, CONTROL, EGG, Trying, masses
from tests.unchanged import unchanged

T0, K50 = 9.0, 260.0  # of the invented snails: slower than the published ones
WARM = {0: 20.0, 1: 24.0}


@pytest.fixture
def trying(api: Api) -> Trying:
    """A control of two tubs, 20 and 24 °C, and a treated arm that nobody treats."""
    found = Trying(Bench(api))
    found.bench.batch("potassium-alum", 5000, "g")
    found.lay_out([ALUM, CONTROL], tubs=4, units=8, targets=[EGG])
    for n, tub in enumerate(found.tubs_of("control")):
        found.bench.logger(tub["tub_id"], 1, 32, WARM[n])
    return found


def hatches(trying: Trying, *, slower: float = 1.0) -> list[dict[str, Any]]:
    """Six masses a tub, give or take three in a hundred."""
    starts = datetime.fromisoformat(trying.trial["starts_at"])
    found = []
    for n, tub in enumerate(trying.tubs_of("control")):
        for m in range(6):
            laid = starts + timedelta(days=1 + 0.2 * m)
            days = slower * K50 / (WARM[n] - T0) * (0.97, 1.0, 1.03)[m % 3]
            hatched = laid + timedelta(days=days)
            row = {"label": tub["label"], "pest": "bladder_snail"}
            found.append({**row, "laid_at": laid.isoformat(), "hatched_at": hatched.isoformat()})
    return found


def learn(trying: Trying, **more: Any) -> Any:
    body = {"arm": "control", "development": ["bladder_snail"], "reason": "seen hatching", **more}
    return trying.bench.api.manager.post(f"{trying.path}/adoption", body)


def close(trying: Trying) -> None:
    trying.bench.api.manager.made(f"{trying.path}/close", {"conclusion": "Slow.", **trying.bench.when(32)})


def seen(trying: Trying, rows: list[dict[str, Any]]) -> None:
    trying.look(0, counts=[masses(label, clear=1) for label in trying.labels("control")])
    trying.look(30, hatches=rows)


def snail(api: Api) -> Any:
    return next(pest for pest in api.auditor.seen("/pests")["items"] if pest["code"] == "bladder_snail")


def test_hatch_dates_become_the_house_s_own_figures_which_the_clock_uses(
    trying: Trying, database: Database
) -> None:
    bench = trying.bench
    cleared = bench.cleared_lot(20)
    tub = bench.tub("Q9")
    waiting = quarantined(bench, tub, day=20)
    bench.logger(tub, 20, bench.age, 20)
    for day, way in ((23, "strain"), (27, "bait")):
        bench.look(day, lot_id=waiting, method=way, sample_size=20)
    work_done(database)
    before, told = listed(bench, waiting)["release_day"], snail(bench.api)
    seen(trying, hatches(trying))
    [shown] = trying.result()["development"]
    assert (shown["masses"], shown["left_out"], shown["against_adoption"]) == (12, 0, [])
    close(trying)
    answer = learn(trying)
    assert answer.status_code == 201, answer.get_json()
    [own] = answer.get_json()["development"]
    assert (own["house_number"], own["masses"], own["trials"]) == (1, 12, 1)
    assert own["lower_threshold_c"] == pytest.approx(T0, abs=1)
    assert own["thermal_constant_dd"] == pytest.approx(K50, rel=0.1)
    assert own["published"]["thermal_constant_dd"] == told["development"]["thermal_constant_dd"]
    after = snail(bench.api)
    assert after["house"] == {"number": 1, "in_place_of": told["development"]}
    assert after["development"]["thermal_constant_dd"] == own["thermal_constant_dd"]
    assert "12 egg masses" in after["development"]["source"]
    work_done(database)
    assert listed(bench, waiting)["release_day"] > before
    replayed = bench.api.auditor.seen(f"/certificates/{serial_of(bench, cleared)}/replay")
    assert replayed["outcome"] == "same"
    assert replayed["reference_version"] == shipped().version
    assert replayed["reference_version_now"] == f"{shipped().version}+house.1"
    assert bench.api.auditor.seen(f"/lots/{waiting}/clearance")["reference_version"].endswith("+house.1")
    stays_in_force(database, own["thermal_constant_dd"], bench.api)


def serial_of(bench: Bench, lot: str) -> str:
    return str(bench.api.auditor.seen(f"/lots/{lot}")["certificate_serial"])


def stays_in_force(database: Database, constant: float, api: Api) -> None:
    """New reference data changes what stands beside the house's own figures, not these."""
    with database.writing() as session:
        assert adopt_pests(session, Act("the house", utc_now(), utc_now()), shipped()) == 0
    old = shipped().pests["bladder_snail"]
    assert old.development is not None
    new = replace(old, name="Tadpole snail", development=replace(old.development, anchor_days=9.0))
    pests = {**shipped().pests, "bladder_snail": new}
    with database.writing() as session:
        changed = replace(shipped(), version="2999.1", pests=pests)
        assert adopt_pests(session, Act("the house", utc_now(), utc_now()), changed) == 1
        session.commit()
    shown = snail(api)
    assert (shown["name"], shown["reference_version"]) == ("Tadpole snail", "2999.1")
    assert shown["development"]["thermal_constant_dd"] == constant
    assert (shown["house"]["number"], shown["house"]["in_place_of"]["anchor_days"]) == (1, 9.0)


def test_why_a_fit_is_not_taken_over_is_said_and_nothing_changes(trying: Trying, database: Database) -> None:
    rows = hatches(trying)
    seen(trying, [*rows[:3], *rows[6:]])
    [shown] = trying.result()["development"]
    assert "12 are the fewest" in shown["against_adoption"][0]
    close(trying)
    with unchanged(database):
        refused = learn(trying)
        unknown = learn(trying, development=["planarian"])
    assert (refused.status_code, refused.get_json()["reasons"][0]["code"]) == (409, "too-few-masses")
    assert (unknown.status_code, unknown.get_json()["errors"][0]["pointer"]) == (422, "#/development/0")


def test_masses_are_held_against_the_shortest_wait_of_any_policy_in_force(trying: Trying, api: Api) -> None:
    seen(trying, hatches(trying))
    body = own_policy(api)
    for factor, against in ((1.0, 1), (1.6, 0)):
        api.owner.made("/policies", {**body, "hatch": {**body["hatch"], "factor_treated": factor}})
        [shown] = trying.result()["development"]
        told = [one for one in shown["against_adoption"] if "hatched later" in one]
        assert len(told) == against, shown["against_adoption"]


def test_of_the_control_only_its_eggs_are_learnt(trying: Trying, database: Database) -> None:
    seen(trying, hatches(trying))
    close(trying)
    with unchanged(database):
        refused = learn(trying, stages=[EGG])
    assert refused.get_json()["reasons"][0]["code"] == "control-arm"


def test_treated_unmeasured_and_older_masses_do_not_count(trying: Trying) -> None:
    rows = hatches(trying)
    treated = {**rows[0], "label": trying.tubs_of("alum")[0]["label"]}
    older = {
        **rows[1],
        "laid_at": (datetime.fromisoformat(rows[1]["laid_at"]) - timedelta(days=9)).isoformat(),
    }
    seen(trying, [*rows, treated, older])
    [shown] = trying.result()["development"]
    assert (shown["masses"], shown["left_out"]) == (12, 2)
