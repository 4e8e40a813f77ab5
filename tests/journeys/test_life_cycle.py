"""A lot's life at random: whatever is done in whatever order, no plant is lost or counted twice."""

from pathlib import Path
from typing import Any

import pytest
from flask import Flask
from hypothesis import HealthCheck, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, initialize, invariant, rule, run_state_machine_as_test
from werkzeug.test import TestResponse

from service.wiring import open_database
from tests.api import Api, Contract
from tests.house import Templates, settings_for
from tests.journeys.bench import Bench
from tests.soak import figure

SOME = st.integers(1, 8)
KINDS = st.sampled_from(["depot", "divide", "bunch", "trim", "recount"])
CAUSES = st.sampled_from(["melt", "broken", "taken_as_sample"])


class LifeOfLots(RuleBasedStateMachine):
    """Two lots, one cleared and one just received, and everything that moves quantity."""

    templates: Templates
    kind: str
    app: Flask
    contract: Contract
    folder: Path

    def __init__(self) -> None:
        super().__init__()
        url = self.templates.afresh(self.kind)
        self._database = open_database(settings_for(url, self.folder))
        self.app.extensions["dipledger.settings"] = settings_for(url, self.folder)
        self.app.extensions["dipledger.database"] = self._database
        self.api = Api(self.app, self.contract, self.templates.tokens[self.kind])
        self.received: dict[str, int] = {}
        self.dispatches: list[str] = []

    def teardown(self) -> None:
        self._database.dispose()

    @initialize()
    def two_lots(self) -> None:
        self.bench = Bench(self.api)
        cleared = self.bench.cleared_lot(20)
        fresh = self.bench.lot("anubias-barteri", 12, day=1)["id"]
        self.lots = [cleared, fresh]
        self.received = {cleared: 20, fresh: 12}

    @rule(which=st.integers(0, 9), quantity=SOME, cause=CAUSES)
    def lose(self, which: int, quantity: int, cause: str) -> None:
        self._act(f"/lots/{self._lot(which)}/losses", {"quantity": quantity, "cause": cause})

    @rule(which=st.integers(0, 9), quantity=SOME)
    def sell(self, which: int, quantity: int) -> None:
        line = {"lot_id": self._lot(which), "quantity": quantity}
        answer = self._act("/dispatches", {"order_ref": "W-1", "customer_ref": "c", "lines": [line]})
        if answer.status_code == 201:
            self.dispatches.append(answer.get_json()["id"])

    @rule(which=st.integers(0, 9))
    def reverse(self, which: int) -> None:
        if self.dispatches:
            dispatch = self.dispatches[which % len(self.dispatches)]
            self._act(f"/dispatches/{dispatch}/reversal", {"reason": "typed twice"})

    @rule(which=st.integers(0, 9), quantity=SOME)
    def split(self, which: int, quantity: int) -> None:
        parent = self._lot(which)
        answer = self._act(f"/lots/{parent}/splits", {"quantity": quantity, "reason": "two benches"})
        if answer.status_code == 201:
            child = next(item["id"] for item in self._everything() if item["id"] not in self.received)
            self.lots.append(child)
            self.received[child] = quantity

    @rule(which=st.integers(0, 9), less=st.integers(0, 5), more=st.integers(0, 5), kind=KINDS)
    def repack(self, which: int, less: int, more: int, kind: str) -> None:
        lot = self._lot(which)
        left = self.bench.see(lot)["quantity"]["left"]
        body = {"from_quantity": left - less, "to_quantity": left - less + more, "kind": kind}
        self._act(f"/lots/{lot}/repack", {**body, "to_unit_of_sale": "pot"})

    @rule(which=st.integers(0, 9))
    def reject(self, which: int) -> None:
        lot = self._lot(which)
        left = self.bench.see(lot)["quantity"]["left"]
        self._act(f"/lots/{lot}/rejection", {"quantity": left, "way": "destroyed", "reason": "spoilt"})

    @rule(which=st.integers(0, 9))
    def hold(self, which: int) -> None:
        self._act(f"/lots/{self._lot(which)}/holds", {"cause": "doubt", "reason": "look again"})

    @rule(which=st.integers(0, 9), live=st.integers(0, 1))
    def look(self, which: int, live: int) -> None:
        finding = {"pest": "bladder_snail", "stage": "adult", "live": live, "dead": 1, "removed": True}
        self._act("/inspections", {"lot_id": self._lot(which), "sample_size": 1, "findings": [finding]})

    @invariant()
    def every_plant_is_accounted_for(self) -> None:
        for item in self._everything() if self.received else ():
            q = item["quantity"]
            gone = q["sold"] + q["lost"] + q["split_off"] + q["disposed"]
            assert q["received"] + q["gained"] == q["left"] + gone, item["code"]
            assert q["received"] == self.received[item["id"]]
            assert min(q.values()) >= 0
            assert q["reserved"] <= q["left"]

    @invariant()
    def only_what_is_cleared_has_a_living_certificate(self) -> None:
        for item in self._everything() if self.received else ():
            assert (item["state"] == "cleared") == (item["certificate_serial"] is not None), item["code"]

    def _lot(self, which: int) -> str:
        return str(self.lots[which % len(self.lots)])

    def _act(self, path: str, body: Any) -> TestResponse:
        answer = self.api.manager.post(path, body)
        assert answer.status_code in {200, 201, 409, 422}, answer.get_json()
        return answer

    def _everything(self) -> list[Any]:
        return list(self.api.manager.seen("/lots?limit=200")["items"])


@pytest.mark.promise(r=4)
@pytest.mark.soak
@pytest.mark.parametrize("kind", ["sqlite", "postgresql"])
def test_no_plant_is_lost_or_counted_twice(
    kind: str, templates: Templates, served: tuple[Flask, Contract], tmp_path: Path
) -> None:
    machine = type(
        "Machine",
        (LifeOfLots,),
        {"templates": templates, "kind": kind, "app": served[0], "contract": served[1], "folder": tmp_path},
    )
    run_state_machine_as_test(
        machine,
        settings=settings(
            max_examples=figure(gate=12, full=200),
            stateful_step_count=25,
            deadline=None,
            derandomize=True,
            suppress_health_check=list(HealthCheck),
        ),
    )
