"""R12: while the broker is gone or hangs, every act goes on, and workers are woken again once it is back."""

import socket
import time
from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

import pytest
from redis import Redis

from service.app import create_app
from service.core.db import Database
from service.core.queue import Waker, broker_verdict
from service.core.settings import Settings
from tests.api import Api, Contract
from tests.house import settings_for
from tests.processes.house import until
from tests.servers import redis

Broker = Callable[[], AbstractContextManager[str]]
PAUSE_MS = 5000  # longer than our time-out of two seconds


@contextmanager
def nobody() -> Iterator[str]:
    """A port at which nobody listens."""
    with socket.socket() as held:
        held.bind(("127.0.0.1", 0))
        yield f"redis://127.0.0.1:{held.getsockname()[1]}/0"


@contextmanager
def silence() -> Iterator[str]:
    """A port at which somebody takes every call and never says a word: worse than nobody."""
    with socket.socket() as listening:
        listening.bind(("127.0.0.1", 0))
        listening.listen(100)
        yield f"redis://127.0.0.1:{listening.getsockname()[1]}/0"


@pytest.mark.promise(r=12)
@pytest.mark.parametrize("broker", [nobody, silence])
def test_acts_go_on_without_a_broker(
    broker: Broker, settings: Settings, database: Database, api: Api, tmp_path: Path
) -> None:
    with broker() as url:
        lonely = settings_for(settings.database_url, tmp_path, url)
        app = create_app(lonely, database)
        alone = Api(app, Contract(app), api.tokens)
        for n in range(5):
            made = alone.grower.made("/suppliers", {"name": f"Fenmarsh Growers {n}", "country": "NL"})
            assert alone.grower.seen(f"/suppliers/{made['id']}")["name"] == f"Fenmarsh Growers {n}"
        assert broker_verdict(lonely)[0] == "warn"
        assert alone.nobody.get("/readyz").status_code == 200
        assert "delayed" in alone.nobody.get("/readyz").get_data(as_text=True)


@pytest.mark.promise(r=10)
def test_workers_are_woken_again_by_a_broker_that_hung(tmp_path: Path) -> None:
    with redis() as url, Redis.from_url(url) as there:
        waker = Waker(settings_for("sqlite://", tmp_path, url))
        waker.wake()
        until(lambda: there.llen("celery") == 1, "the first news is there")
        there.execute_command("CLIENT", "PAUSE", PAUSE_MS, "ALL")
        waker.wake()
        time.sleep(PAUSE_MS / 1000)

        def woken() -> bool:
            waker.wake()
            return int(there.llen("celery")) > 2

        until(woken, "news come again")


@pytest.mark.promise(r=10)
def test_workers_are_woken_again_by_a_broker_that_was_gone(tmp_path: Path) -> None:
    with redis() as url, Redis.from_url(url) as there:
        waker = Waker(settings_for("sqlite://", tmp_path, url))
        waker.wake()
        until(lambda: there.llen("celery") == 1, "the first news is there")
        there.client_kill_filter(_type="normal", skipme=True)
        there.flushall()

        def woken() -> bool:
            waker.wake()
            return int(there.llen("celery")) > 0

        until(woken, "news come again")
