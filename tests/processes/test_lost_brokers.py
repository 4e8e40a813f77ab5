"""R10: a broker that hangs, is emptied and dies in the middle loses nothing of what is owed."""

import random
import time
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest
from redis import Redis

from service.accounts.rules import Role
from service.core.db import Database
from tests.house import Templates
from tests.processes.crew import Crew, finished, in_the_middle
from tests.processes.house import answers, free_port, send, until
from tests.processes.slow_jobs import left, marks, owe
from tests.servers.mortal import mortal_redis
from tests.soak import figure

LOSSES = figure(gate=1, full=20)
BACK_WITHIN_S = 120
JOBS = 12


@pytest.mark.promise(r=10)
@pytest.mark.promise(r=12)
@pytest.mark.soak
@pytest.mark.parametrize("database_kind", ["postgresql"], indirect=True)
def test_a_lost_broker_loses_nothing(
    database: Database,
    templates: Templates,
    tmp_path: Path,
    record_property: Callable[[str, object], None],
) -> None:
    port, chance, longest = free_port(), random.Random(10), 0.0  # noqa: S311  # the same moments in every run
    token = templates.tokens["postgresql"][Role.OWNER]
    owed: list[str] = []

    def act() -> int:
        name = f"Fenmarsh Growers {len(owed)}"
        sent = time.monotonic()
        status = send(port, "POST", "/api/v1/suppliers", {"name": name, "country": "NL"}, token)[0]
        assert time.monotonic() - sent < 5
        return status

    def owe_more() -> None:
        more = [f"{len(owed)}-{n}" for n in range(JOBS)]
        owe(database, "careful", more)
        owed.extend(more)

    with mortal_redis() as (broker, url):
        crew = Crew(database, tmp_path / "home", url)
        with crew.at_work(), crew.house.started("web", "--port", str(port)):
            until(lambda: answers(port), "the web answers")
            for _ in range(LOSSES):
                in_the_middle(database, ["careful"], chance, owe_more)
                broker.hang()
                owe_more()
                assert act() == 201
                broker.go_on()
                with Redis.from_url(url) as there:
                    there.flushall()
                broker.kill()
                owe_more()
                assert act() == 201
                time.sleep(chance.uniform(0, 2))
                broker.start()
                back = time.monotonic()
                until(lambda: finished(database, ["careful"]), "all is done")
                longest = max(longest, time.monotonic() - back)
    record_property("longest_s", round(longest, 1))
    assert longest < BACK_WITHIN_S
    assert marks(database) == Counter(owed)
    assert not left(database, ["careful"])
