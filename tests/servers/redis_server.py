"""A Redis server for tests."""

import os
import signal
from collections.abc import Iterator, Sequence
from contextlib import closing, contextmanager
from pathlib import Path

from redis import Redis, RedisError

from tests.servers import binaries
from tests.servers.running import Server, running

NAMED_SERVER = "DIPLEDGER_TEST_REDIS_URL"


@contextmanager
def redis() -> Iterator[str]:
    """The URL of a Redis that is there for the length of the block; tests may empty its database.

    It is the server named in DIPLEDGER_TEST_REDIS_URL, else one of our own, started now.
    Raises ServerMissing or ServerFailed.
    """
    named = os.environ.get(NAMED_SERVER)
    if named:
        yield named
        return
    with running(Server("redis", command, answers, signal.SIGTERM)) as port:
        yield f"redis://127.0.0.1:{port}/0"


def command(folder: Path, port: int) -> Sequence[str]:
    """What starts one that keeps nothing."""
    program = binaries.within_reach(binaries.redis_server(), folder)
    options = {"port": str(port), "bind": "127.0.0.1", "save": "", "appendonly": "no", "dir": str(folder)}
    return [str(program), *(part for name, value in options.items() for part in (f"--{name}", value))]


def answers(folder: Path, port: int) -> bool:
    """Whether it is our server that answers, and not another that took the port first."""
    with closing(
        Redis(port=port, socket_connect_timeout=5, socket_timeout=5, decode_responses=True)
    ) as client:
        try:
            found = client.config_get("dir")
        except RedisError:
            return False
    return found == {"dir": str(folder)}
