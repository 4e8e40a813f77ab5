"""Servers that tests kill, hang and start again at the same port, with what they had on disk."""

import os
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from tests.servers import guard, postgresql, redis_server
from tests.servers.binaries import RUN_AS
from tests.servers.kin import below
from tests.servers.running import ServerFailed, free_port, new_folder

PATIENCE_S = 60.0


class Mortal:
    """A server of our own; `home` is the folder that outlives it."""

    def __init__(
        self, command: Sequence[str], answers: Callable[[Path, int], bool], home: Path, port: int
    ) -> None:
        self.port = port
        self._command, self._answers, self._home = command, answers, home
        self._guard: subprocess.Popen[bytes] | None = None

    def start(self) -> None:
        """Start it, or start it again; returns when it answers."""
        scratch = new_folder("scratch")
        arguments = [str(os.getpid()), str(scratch), str(int(signal.SIGQUIT)), RUN_AS, *self._command]
        self._guard = subprocess.Popen(
            [sys.executable, "-I", "-S", guard.__file__, *arguments],
            stdin=subprocess.PIPE,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            env=os.environ | {"LC_ALL": "C.UTF-8"},
            start_new_session=True,
        )
        deadline = time.monotonic() + PATIENCE_S
        while not self._answers(self._home, self.port):
            if time.monotonic() > deadline or self._guard.poll() is not None:
                raise ServerFailed(f"{self._command[0]} did not start at port {self.port}.")
            time.sleep(0.05)

    def kill(self) -> None:
        """SIGKILL to all of it at once: none of its processes sees another die."""
        self.hang()
        for process in reversed(self._processes()):
            os.kill(process, signal.SIGKILL)
        if self._guard is not None:
            self._guard.communicate()
            self._guard = None

    def hang(self) -> None:
        """It holds every connection and takes new ones, and never says a word."""
        for process in self._processes():  # the first is the one that makes the others
            os.kill(process, signal.SIGSTOP)

    def go_on(self) -> None:
        """End a hang."""
        for process in self._processes():
            os.kill(process, signal.SIGCONT)

    def _processes(self) -> list[int]:
        return [] if self._guard is None else below(self._guard.pid)


@contextmanager
def mortal_postgres() -> Iterator[tuple[Mortal, str]]:
    """A PostgreSQL with its own safe settings, and the SQLAlchemy URL of its superuser."""
    with _home("postgres") as home:
        port = free_port()
        command = postgresql.command((), home, port)
        with _running(Mortal(command, postgresql.answers, home, port)) as server:
            yield server, f"postgresql+psycopg://postgres@127.0.0.1:{port}/postgres"


@contextmanager
def mortal_redis() -> Iterator[tuple[Mortal, str]]:
    """A Redis that keeps nothing, so that each start is with an empty one; and its URL."""
    with _home("redis") as home:
        port = free_port()
        command = redis_server.command(home, port)
        with _running(Mortal(command, redis_server.answers, home, port)) as server:
            yield server, f"redis://127.0.0.1:{port}/0"


@contextmanager
def _home(name: str) -> Iterator[Path]:
    home = new_folder(name)
    try:
        yield home
    finally:
        shutil.rmtree(home, ignore_errors=True)


@contextmanager
def _running(server: Mortal) -> Iterator[Mortal]:
    server.start()
    try:
        yield server
    finally:
        server.kill()
