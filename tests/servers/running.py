"""One server of our own: a free port, a folder that goes with it, a guard, and a wait until it answers."""

import os
import secrets
import shutil
import signal
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import IO

from tests.servers import guard
from tests.servers.binaries import RUN_AS

# Below the range from which systems take the ports of outgoing connections.
PORTS = range(20_000, 32_768)
PATIENCE_S = 60.0
ATTEMPTS = 3


class ServerFailed(Exception):
    """The server did not come up; the message ends with what it said."""


@dataclass(frozen=True)
class Server:
    """What is to be started: its command, how to ask it, and the signal that ends it fastest."""

    name: str
    command: Callable[[Path, int], Sequence[str]]
    answers: Callable[[Path, int], bool]
    stop_signal: signal.Signals


@dataclass(frozen=True)
class _Launched:
    server: Server
    folder: Path
    port: int
    guard: subprocess.Popen[bytes]
    log: IO[bytes]

    def answers_in_time(self) -> bool:
        deadline = time.monotonic() + PATIENCE_S
        while self.guard.poll() is None and time.monotonic() < deadline:
            if self.server.answers(self.folder, self.port):
                return True
            time.sleep(0.02)
        return False

    def end(self) -> None:
        """Close the guard's pipe; it stops the server and removes the folder."""
        self.guard.communicate()

    def said(self) -> str:
        return os.pread(self.log.fileno(), 20_000, 0).decode(errors="replace")


@contextmanager
def running(server: Server) -> Iterator[int]:
    """Run the server for the length of the block and give its port on 127.0.0.1; raises ServerFailed."""
    # Without a name in any folder, so it needs no cleaning up whoever dies.
    with tempfile.TemporaryFile(mode="ab+") as log:
        launched = _launch_until_one_answers(server, log)
        try:
            yield launched.port
        finally:
            launched.end()


def _launch_until_one_answers(server: Server, log: IO[bytes]) -> _Launched:
    for _ in range(ATTEMPTS):  # another process may take the port between our look and the server's start
        launched = _launch(server, log)
        if launched.answers_in_time():
            return launched
        launched.end()
    raise ServerFailed(f"{server.name} did not start in {ATTEMPTS} attempts. It said:\n{launched.said()}")


def _launch(server: Server, log: IO[bytes]) -> _Launched:
    folder, port = new_folder(server.name), free_port()
    try:
        command = server.command(folder, port)
    except BaseException:
        shutil.rmtree(folder)
        raise
    arguments = [str(os.getpid()), str(folder), str(int(server.stop_signal)), RUN_AS, *command]
    process = subprocess.Popen(
        [sys.executable, "-I", "-S", guard.__file__, *arguments],
        stdin=subprocess.PIPE,
        stdout=log,
        stderr=log,
        env=os.environ | {"LC_ALL": "C.UTF-8"},
        start_new_session=True,  # Ctrl-C is for the tests, which then end their servers
    )
    return _Launched(server, folder, port, process, log)


def new_folder(name: str) -> Path:
    """A new folder that the server's user owns; root's own temporary folder may be closed to that user."""
    if RUN_AS == "-":
        return Path(tempfile.mkdtemp(prefix=f"dipledger-{name}-")).resolve()
    folder = Path(tempfile.mkdtemp(prefix=f"dipledger-{name}-", dir="/tmp"))
    shutil.chown(folder, RUN_AS)
    return folder.resolve()


def free_port() -> int:
    """A port at which nobody listens now."""
    while True:
        port = secrets.choice(PORTS)
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) != 0:
                return port
