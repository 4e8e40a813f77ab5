"""What of the chlorine that a treatment poured is still active after the neutraliser recorded for it."""

from collections import deque
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from math import floor
from typing import get_args

from service.science.neutralising import Agent, surely_taken

AGENTS: Mapping[str | None, Agent] = {agent: agent for agent in get_args(Agent)}


@dataclass(frozen=True)
class Poured:
    """One line of a treatment: what it is of, mg of the substance (None: unknown), the agent it serves as."""

    entry_id: str
    substance: str
    active_mg: int | None
    agent: str | None = None


def left_of_chlorine(lines: Iterable[Poured]) -> dict[str, int | None]:
    """Milligrams of chlorine left of each line that poured any; lines of one treatment in their order.

    An agent takes from what was poured before it, the oldest first, and no more than it takes for sure
    (`neutralising.surely_taken`, whole milligrams). Chlorine of unknown strength may have used it all up.
    Only chlorine is reckoned: nothing on record takes copper away.
    """
    left: dict[str, int | None] = {}
    waiting: deque[str] = deque()
    for line in lines:
        if line.substance == "chlorine":
            left[line.entry_id] = line.active_mg
            waiting.append(line.entry_id)
        elif line.agent in AGENTS:
            _take(left, waiting, floor(surely_taken(AGENTS[line.agent], line.active_mg or 0)))
    return left


def _take(left: dict[str, int | None], waiting: deque[str], can_take: int) -> None:
    while waiting and can_take > 0:
        there = left[waiting[0]]
        if there is None:
            return
        taken = min(there, can_take)
        left[waiting[0]] = there - taken
        can_take -= taken
        if taken == there:
            waiting.popleft()
