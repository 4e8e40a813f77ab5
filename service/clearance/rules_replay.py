"""All that a decision was judged by as plain values, and the same judgement done again from them alone."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from service.clearance.rules import Gate, GateFacts, gates
from service.clearance.rules_animals import AnimalTest
from service.clearance.rules_plants import Health, Listed
from service.clearance.rules_residue import ResidueFacts, Washed
from service.quarantine.rules import ClockFacts, clock
from service.quarantine.rules_freedom import Freedom, Known, Seen, Suspect, freedoms_of
from service.quarantine.rules_release import Log, Projection, Wait, project


@dataclass(frozen=True)
class Inputs:
    """What the gates of one lot were judged by `at` a moment.

    `wait`, `residue` and `freedom_target` hold the figures of the policy; `wait` and `suspects` those of
    pests and detection, as they were; `counted` are the looks that took in enough, `seen` all that say
    something.
    """

    at: datetime
    clock: ClockFacts
    wait: Wait
    log: Log
    counted: Sequence[datetime]
    repacked_at: datetime | None
    suspects: Sequence[Suspect]
    seen: Sequence[Seen]
    freedom_target: float
    finished_protocols: Sequence[str]
    open_protocols: Sequence[str]
    residue: ResidueFacts
    washed: Washed
    hold_causes: Sequence[str]
    regulated_lock: bool
    left: int
    health: Health
    listed: Listed
    nights: Sequence[datetime] = ()  # clean baits left overnight
    animals: AnimalTest | None = None  # the newest test of its soak water that says something
    figures_version: str = ""  # of pests: the reference data's, and the house's own


@dataclass(frozen=True)
class Compared:
    """One gate as it was decided on and as it is judged again; None where one of them has no such gate."""

    code: str
    then: Mapping[str, Any] | None
    again: Mapping[str, Any] | None

    @property
    def same(self) -> bool:
        """True when nothing of it differs."""
        return self.then == self.again


def gate_facts(inputs: Inputs, projection: Projection, freedoms: Sequence[Freedom]) -> GateFacts:
    """What the gates take, once the release and the chances are computed."""
    started = projection.clock_started_at
    return GateFacts(
        projection=projection,
        wait=inputs.wait,
        finished_protocols=inputs.finished_protocols,
        open_protocols=inputs.open_protocols,
        clean_looks=sum(started is not None and look >= started for look in inputs.counted),
        residue=inputs.residue,
        washed=inputs.washed,
        hold_causes=inputs.hold_causes,
        regulated_lock=inputs.regulated_lock,
        left=inputs.left,
        health=inputs.health,
        listed=inputs.listed,
        freedoms=freedoms,
        freedom_target=inputs.freedom_target,
        animals=inputs.animals,
    )


def replay(inputs: Inputs) -> list[Gate]:
    """Every gate judged again, from the clock on, by the rules of today; OutOfDomain as the science says."""
    found = clock(inputs.clock)
    projection = project(
        found,
        inputs.wait,
        inputs.log,
        inputs.counted,
        repacked_at=inputs.repacked_at,
        now=inputs.at,
        nights=inputs.nights,
    )
    known = None
    if found.started_at is not None and found.started_at <= inputs.at:
        readings, half_credit = inputs.log.readings, inputs.wait.half_credit
        known = Known(found.started_at, inputs.seen, readings, half_credit, inputs.at)
    chances = [] if known is None else freedoms_of(inputs.suspects, known)
    return gates(gate_facts(inputs, projection, chances), inputs.at)


def compared(then: Sequence[Mapping[str, Any]], again: Sequence[Mapping[str, Any]]) -> list[Compared]:
    """The gates of a decision beside those judged again, both as they are kept in JSON."""
    before = {gate["code"]: gate for gate in then}
    after = {gate["code"]: gate for gate in again}
    return [Compared(code, before.get(code), after.get(code)) for code in dict.fromkeys([*before, *after])]
