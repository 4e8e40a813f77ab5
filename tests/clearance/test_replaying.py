"""A decision is judged again from what is kept with it, and comes to the same answer whatever came after."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from sqlalchemy import delete, select

from service.catalogue.adoption import adopt_pests
from service.clearance.models import Certificate, Clearance, ClearanceInputs
from service.core.clock import utc_now
from service.core.db import Database
from service.journal.acts import Act
from service.reference.loader import Reference, shipped
from tests.journeys.bench import Bench
from tests.make_clearance import decide, ready
from tests.make_quarantine import ADULT

DECIDED = 49.5


def logged(bench: Bench, tub: str) -> str:
    bench.logger(tub, 0, bench.age, 24)
    return ready(bench, tub)


def serial_of(answer: Any) -> str:
    assert answer.status_code == 201, answer.get_json()
    return str(answer.get_json()["certificate"]["serial"])


def certified(bench: Bench) -> str:
    """The serial of a lot that was cleared on day 49.5."""
    return serial_of(decide(bench, logged(bench, bench.tub("Q1")), bench.when(DECIDED)))


def replayed(bench: Bench, serial: str) -> Any:
    return bench.api.auditor.seen(f"/certificates/{serial}/replay")


def differing(shown: Any) -> list[str]:
    return [gate["code"] for gate in shown["gates"] if not gate["same"]]


def alter(database: Database, serial: str, change: Callable[..., Any]) -> None:
    """Change what is kept with a decision behind the service's back."""
    with database.writing() as session:
        decision = select(Certificate.clearance_id).where(Certificate.serial == serial)
        kept = session.get_one(ClearanceInputs, session.scalars(decision).one())
        kept.content = change(kept.content)
        session.commit()


def slower(known: Reference) -> Reference:
    """Reference data in which eggs take longer and looks find less."""
    snail = known.pests["pond_snail"]
    assert snail.development is not None
    growth = replace(
        snail.development, thermal_constant_dd=snail.development.thermal_constant_dd * 3, anchor_days=60
    )
    rows = tuple(
        replace(row, eyes=dict.fromkeys(row.eyes, 0.05), strain=0.02, bait=0.02)
        for row in known.detection.rows
    )
    return replace(
        known,
        version="2999.1",
        pests={**known.pests, "pond_snail": replace(snail, development=growth)},
        detection=replace(known.detection, rows=rows),
    )


@pytest.mark.promise(r=30)
def test_a_decision_replays_to_the_same_answer_and_shows_each_gate(bench: Bench) -> None:
    shown = replayed(bench, certified(bench))
    assert (shown["outcome"], shown["cleared"], shown["inputs_as_recorded"]) == ("same", True, True)
    assert len(shown["gates"]) == 13
    assert all(gate["then"] == gate["again"] and gate["then"]["ok"] for gate in shown["gates"])
    assert shown["rules_version"] == shown["rules_version_now"]


@pytest.mark.promise(r=30)
def test_it_stays_the_same_when_policy_and_reference_figures_change(
    bench: Bench, database: Database, monkeypatch: pytest.MonkeyPatch
) -> None:
    serial = certified(bench)
    lot = replayed(bench, serial)["lot_id"]
    policies = bench.api.owner.seen("/policies")["items"]
    own = next(item for item in reversed(policies) if item["code"] == "standard")
    for name in ("id", "version", "reference_version", "created_at"):
        del own[name]
    own["floor"]["days"] = 200
    version = bench.api.owner.made("/policies", own)["version"]
    changed = slower(shipped())
    with database.writing() as session:
        now = utc_now()
        assert adopt_pests(session, Act("the house", now, now), changed) == 1
        session.commit()
    for module in ("quarantine.evidence", "quarantine.freedom", "clearance.judging", "clearance.replaying"):
        monkeypatch.setattr(f"service.{module}.shipped", lambda: changed)
    shut = {code for code, gate in bench.gates(lot).items() if not gate["ok"]}
    assert shut >= {"hatch_out", "floor_days", "freedom"}  # judged afresh it would not be cleared
    shown = replayed(bench, serial)
    assert (shown["outcome"], differing(shown)) == ("same", [])
    assert (shown["policy_version"], shown["policy_version_now"]) == (version - 1, version)
    assert (shown["reference_version"], shown["reference_version_now"]) == (shipped().version, "2999.1")


def test_it_stays_the_same_when_more_is_recorded_and_a_find_is_voided(bench: Bench) -> None:
    tub = bench.tub("Q1")
    found = bench.look(0.05, tub_id=tub, method="strain", findings=[ADULT])
    lot = logged(bench, tub)
    own = bench.look(0.08, lot_id=lot, sample_size=20, findings=[ADULT])
    serial = serial_of(decide(bench, lot, bench.when(DECIDED)))
    before = bench.gates(lot)["freedom"]
    assert replayed(bench, serial)["outcome"] == "same"
    for look in (found, own):
        bench.api.manager.made(f"/inspections/{look['id']}/void", {"reason": "a ramshorn after all"})
    bench.look(49.6, lot_id=lot, sample_size=20)
    readings = [{"at": bench.when(49.7)["at"], "value": 31, "unit": "Cel"}]
    bench.api.grower.made(f"/tubs/{tub}/temperatures", {"readings": readings, **late()})
    assert bench.gates(lot)["freedom"] != before
    shown = replayed(bench, serial)
    assert (shown["outcome"], differing(shown)) == ("same", [])


def late() -> dict[str, str]:
    return {"late_reason": "entered from the notebook"}


def test_a_gate_that_an_owner_overrode_is_shut_again_and_the_lot_cleared_again(bench: Bench) -> None:
    tub = bench.tub("Q1")
    bench.logger(tub, 0, 15, 26)
    bench.logger(tub, 19, bench.age, 26)
    override = {"overrides": [{"gate": "temperature_log", "reason": "the logger drowned"}]}
    shown = replayed(bench, serial_of(decide(bench, ready(bench, tub), override, role="owner")))
    assert (shown["outcome"], shown["cleared"]) == ("same", True)
    assert [gate["code"] for gate in shown["gates"] if not gate["again"]["ok"]] == ["temperature_log"]


def test_inputs_altered_behind_the_service_are_shown_gate_by_gate(bench: Bench, database: Database) -> None:
    serial = certified(bench)

    def cooled(content: Any) -> Any:
        readings = [{**reading, "celsius": 12.0} for reading in content["log"]["readings"]]
        return {**content, "log": {**content["log"], "readings": readings}, "hold_causes": ["doubt"]}

    alter(database, serial, cooled)
    shown = replayed(bench, serial)
    assert (shown["outcome"], shown["cleared"], shown["inputs_as_recorded"]) == ("differs", False, False)
    assert set(differing(shown)) >= {"hatch_out", "visibility", "no_hold"}
    hold = next(gate for gate in shown["gates"] if gate["code"] == "no_hold")
    assert (hold["then"]["ok"], hold["again"]["ok"], hold["again"]["have"]) == (True, False, 1)


def test_an_alteration_that_changes_no_gate_is_shown_all_the_same(bench: Bench, database: Database) -> None:
    serial = certified(bench)
    alter(database, serial, lambda content: {**content, "freedom_target": content["freedom_target"] - 1e-9})
    shown = replayed(bench, serial)
    assert (shown["outcome"], shown["inputs_as_recorded"], differing(shown)) == ("differs", False, [])


def test_a_gate_of_the_decision_that_was_altered_is_shown(bench: Bench, database: Database) -> None:
    serial = certified(bench)
    with database.writing() as session:
        decision = session.scalars(select(Clearance)).one()
        decision.gates = [
            {**gate, "have": 3} if gate["code"] == "clean_inspections" else gate for gate in decision.gates
        ]
        session.commit()
    shown = replayed(bench, serial)
    assert (shown["outcome"], shown["inputs_as_recorded"]) == ("differs", True)
    assert differing(shown) == ["clean_inspections"]


def test_inputs_that_cannot_be_judged_are_shown_as_differing(bench: Bench, database: Database) -> None:
    serial = certified(bench)
    hot = [{"at": bench.when(9)["at"], "celsius": 99}]  # no water: the science refuses it
    lists: dict[str, Any] = {"plant": "any", "lists": [{}], "country": "NL", "subdivision": None}
    for wrong in ({"left": "twenty"}, {"log": {"readings": hot, "forecast_c": None}}, {"listed": lists}):
        alter(database, serial, lambda content, wrong=wrong: {**content, **wrong})
        shown = replayed(bench, serial)
        assert (shown["outcome"], shown["cleared"]) == ("differs", False)
        assert all(gate["then"] and gate["again"] is None for gate in shown["gates"])


def test_inputs_that_were_removed_are_shown_as_differing(bench: Bench, database: Database) -> None:
    serial = certified(bench)
    with database.writing() as session:
        session.execute(delete(ClearanceInputs))
        session.commit()
    shown = replayed(bench, serial)
    assert (shown["outcome"], shown["inputs_as_recorded"]) == ("differs", False)


def test_a_decision_from_before_inputs_were_kept_says_so(bench: Bench, database: Database) -> None:
    serial = certified(bench)
    with database.writing() as session:
        certificate = session.scalars(select(Certificate)).one()
        kept = session.get_one(Clearance, certificate.clearance_id)
        columns = {column.key: getattr(kept, column.key) for column in Clearance.__table__.columns}
        former = Clearance(**{name: value for name, value in columns.items() if name != "id"})
        session.add(former)
        session.flush()
        certificate.clearance_id = former.id
        session.commit()
    shown = replayed(bench, serial)
    assert (shown["outcome"], shown["cleared"], shown["gates"]) == ("not_kept", None, [])


def test_the_parts_of_a_lot_that_was_split_replay_its_one_decision(bench: Bench) -> None:
    serial = certified(bench)
    lot = replayed(bench, serial)["lot_id"]
    split = bench.api.grower.made(f"/lots/{lot}/splits", {"quantity": 5, "reason": "for the shop"})
    child = bench.api.grower.seen(f"/certificates/{split['certificate_serial']}/replay")
    assert (child["outcome"], child["lot_id"]) == ("same", lot)


def test_who_may_read_a_certificate_may_replay_it(bench: Bench) -> None:
    path = f"/certificates/{certified(bench)}/replay"
    for name in ("owner", "manager", "grower", "seller", "auditor"):
        assert getattr(bench.api, name).get(path).status_code == 200
    assert bench.api.shop.get(path).status_code == 403
    assert bench.api.nobody.get(path).status_code == 401
    assert bench.api.auditor.get("/certificates/none/replay").status_code == 404
