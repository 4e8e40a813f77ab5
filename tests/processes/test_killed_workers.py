"""R11: workers, their children and beat are killed while they work; all is done, and nothing twice."""

import random
from collections.abc import Callable, Iterator, Sequence
from functools import partial
from pathlib import Path

import pytest

from service.core.db import Database
from tests.processes.crew import Crew, finished, in_the_middle
from tests.processes.house import until
from tests.processes.slow_jobs import left, marks, owe
from tests.servers import redis
from tests.soak import figure

KILLS = figure(gate=1, full=30)
MOST_KILLS = 12  # until the control shows what it is for


@pytest.fixture
def chance() -> random.Random:
    """The same moments in every run."""
    return random.Random(11)  # noqa: S311


@pytest.fixture
def crew(database: Database, tmp_path: Path) -> Iterator[Crew]:
    home = tmp_path / "home"
    if database.engine.dialect.name == "sqlite":
        yield Crew(database, home, None)
        return
    with redis() as broker:
        yield Crew(database, home, broker)


def kill_at_work(
    database: Database, chance: random.Random, kinds: Sequence[str], kill: Callable[[], None]
) -> None:
    """Owe two more of each kind, and kill somebody who is at one."""

    def more() -> None:
        for kind in kinds:
            owe(database, kind, [f"{kind}-{chance.getrandbits(64)}" for _ in range(2)])

    in_the_middle(database, kinds, chance, more)
    kill()


def done(database: Database, kind: str) -> set[int]:
    """How often each job of a kind was done, without saying which; each was owed once."""
    return {times for key, times in marks(database).items() if key.startswith(kind)}


@pytest.mark.promise(r=11)
@pytest.mark.soak
@pytest.mark.parametrize("database_kind", ["postgresql"], indirect=True)
def test_the_work_of_killed_workers_and_children_is_done_once(
    crew: Crew, database: Database, chance: random.Random
) -> None:
    kinds = ("careful", "naive")
    with crew.at_work():
        for _ in range(KILLS):
            kill_at_work(database, chance, kinds, crew.kill_children)
            kill_at_work(database, chance, kinds, partial(crew.kill, "worker"))
        crew.kill("beat")
        for _ in range(MOST_KILLS):
            if done(database, "naive") - {1}:
                break
            kill_at_work(database, chance, kinds, crew.kill_children)
        until(lambda: finished(database, kinds), "all is done")
    assert done(database, "careful") == {1}
    assert not left(database, ["careful"])
    assert done(database, "naive") - {1}, "what commits apart from its end is done twice"


@pytest.mark.promise(r=11)
@pytest.mark.soak
@pytest.mark.skipif(not figure(gate=0, full=1), reason="in the gate the workers of PostgreSQL are killed")
@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
def test_the_work_of_a_killed_worker_without_a_broker_is_done_once(
    crew: Crew, database: Database, chance: random.Random
) -> None:
    with crew.at_work():
        for _ in range(KILLS):
            kill_at_work(database, chance, ["careful"], partial(crew.kill, "worker"))
        until(lambda: finished(database, ["careful"]), "all is done")
    assert done(database, "careful") == {1}
    assert not left(database, ["careful"])
