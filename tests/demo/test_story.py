"""The demo's story is possible at whatever hour of the day it is told."""

from datetime import UTC, date, datetime
from functools import partial

import pytest

from service.demo.bench import Bench
from service.demo.client import Client
from service.demo.house import ROLES
from service.demo.story import acts


@pytest.mark.parametrize("hour", range(24))
def test_no_bottle_comes_in_before_it_was_made(hour: int) -> None:
    clients = {role: Client("http://127.0.0.1:1", "not asked here") for role in ROLES}
    bench = Bench(clients, now=datetime(2026, 11, 30, hour, 38, tzinfo=UTC))
    received = {
        bench.when(done.args[0])["at"][:10]: done.keywords["made_on"]
        for _, _, done in acts(bench)
        if isinstance(done, partial) and "made_on" in done.keywords
    }
    assert received
    assert all(date.fromisoformat(made) <= date.fromisoformat(day) for day, made in received.items())
