"""A worker with a pool and a beat, on slow jobs, to be killed while they are at it."""

import os
import random
import signal
import time
from collections.abc import Callable, Collection, Iterator
from contextlib import ExitStack, contextmanager
from pathlib import Path
from subprocess import Popen

from service.core.db import Database
from service.processes import beat_command, worker_command
from tests.house import SECRET, settings_for
from tests.processes.house import House, until
from tests.processes.slow_jobs import left
from tests.servers.kin import below

# What is slow and has short leases, in place of the service's own.
OURS = dict.fromkeys(("worker.app", "worker.timetable"), "tests.processes.slow_app")


class Crew:
    """Worker and beat of a house; either is started again at once when it was killed."""

    def __init__(self, database: Database, home: Path, broker: str | None) -> None:
        address = database.engine.url.render_as_string(hide_password=False)
        settings = settings_for(address, home, broker)
        self.house = House(
            home,
            DIPLEDGER_DATABASE_URL=address,
            DIPLEDGER_SECRET_KEY=SECRET,
            DIPLEDGER_UNSAFE_DATABASE="yes",  # the test server trades safety for speed
            **({"DIPLEDGER_REDIS_URL": broker} if broker else {}),
        )
        self._commands = {"worker": worker_command(settings, 2), "beat": beat_command()}
        self._stacks = {name: ExitStack() for name in self._commands}
        self._processes: dict[str, Popen[bytes]] = {}

    def kill(self, name: str) -> None:
        """SIGKILL to it and all below it, and a new one."""
        process = self._processes[name]
        for one in (process.pid, *below(process.pid)):
            os.kill(one, signal.SIGKILL)
        self._stacks[name].close()
        self._start(name)

    def kill_children(self) -> None:
        """SIGKILL to the worker's pool, of whom one is at work; it replaces them."""
        for one in below(self._processes["worker"].pid):
            os.kill(one, signal.SIGKILL)

    @contextmanager
    def at_work(self) -> Iterator[None]:
        try:
            for name in self._commands:
                self._start(name)
            yield
        finally:
            for stack in self._stacks.values():
                stack.close()

    def _start(self, name: str) -> None:
        command = [OURS.get(part, part) for part in self._commands[name]]
        self._processes[name] = self._stacks[name].enter_context(self.house.running(command))


def in_the_middle(
    database: Database, kinds: Collection[str], chance: random.Random, more: Callable[[], None]
) -> None:
    """Owe `more`, wait until another job is begun, and a little longer."""
    before = {job.lease_token for job in left(database, kinds)} | {None}  # a dead worker's lease is no work
    more()

    def begun() -> bool:
        if finished(database, kinds):  # all of it was done between two looks
            more()
        return any(job.lease_token not in before for job in left(database, kinds))

    until(begun, "a job is begun")
    time.sleep(chance.uniform(0, 0.2))


def finished(database: Database, kinds: Collection[str]) -> bool:
    """Whether nothing is owed any more but what was given up."""
    return all(job.parked_at for job in left(database, kinds))
