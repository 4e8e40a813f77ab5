"""Starting web, worker and beat: each alone, or all as one process tree that lives and dies together."""

import ctypes
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from types import FrameType
from typing import TYPE_CHECKING, NoReturn

if TYPE_CHECKING:
    from service.core.settings import Settings

PR_SET_PDEATHSIG = 1
GRACE_S = 10
KILL_S = 8


def web_command(host: str, port: int, workers: int) -> list[str]:
    """The HTTP server: granian with one blocking thread a worker (see DEVELOPERS.md for the measurement)."""
    return [
        *(
            sys.executable,
            "-m",
            "granian",
            "--interface",
            "wsgi",
            "--factory",
            "service.app:from_environment",
        ),
        *("--host", host, "--port", str(port), "--workers", str(workers)),
        *("--blocking-threads", "1", "--no-ws", "--log-level", "warning"),
        # One that died (out of memory, killed) is replaced; without this the others would be stopped for it.
        "--respawn-failed-workers",
        # From its fork until the application is loaded a worker does not hear SIGTERM: the server would wait
        # for it for ever, and leave it serving when it is killed itself.
        *("--workers-kill-timeout", str(KILL_S)),
    ]


def worker_command(settings: "Settings", concurrency: int) -> list[str]:
    """A worker; alone on one machine it needs no pool."""
    pool = (
        ["--pool", "solo"] if settings.embedded else ["--pool", "prefork", "--concurrency", str(concurrency)]
    )
    quiet = ["--loglevel", "WARNING", "--without-gossip", "--without-mingle", "--without-heartbeat"]
    return [sys.executable, "-m", "celery", "--quiet", "-A", "worker.app", "worker", *pool, *quiet]


def beat_command() -> list[str]:
    """The one beat of a house."""
    return [
        sys.executable,
        "-m",
        "celery",
        "--quiet",
        "-A",
        "worker.timetable",
        "beat",
        "--loglevel",
        "WARNING",
    ]


def supervise(commands: Sequence[Sequence[str]]) -> NoReturn:
    """Become a process that runs these commands and nothing else: what was loaded to get here is let go."""
    os.execv(sys.executable, [sys.executable, "-m", "service.processes", json.dumps(commands)])  # noqa: S606  # no shell


def serve(commands: Sequence[Sequence[str]]) -> int:
    """Run all commands until one ends or we are told to stop; then stop them all. Gives the exit code."""
    children = [
        subprocess.Popen(command, process_group=0, preexec_fn=_die_with_parent)  # noqa: PLW1509  # no threads here
        for command in commands
    ]
    stopping = _Stop()
    while not stopping.asked and all(child.poll() is None for child in children):
        time.sleep(0.2)
    code = 0 if stopping.asked else next(c.returncode for c in children if c.poll() is not None) or 1
    _stop(children)
    return code


class _Stop:
    """Remembers that a signal asked us to stop."""

    def __init__(self) -> None:
        self.asked = False
        for number in (signal.SIGINT, signal.SIGTERM):
            signal.signal(number, self._ask)

    def _ask(self, _number: int, _frame: FrameType | None) -> None:
        self.asked = True


def _stop(children: Sequence[subprocess.Popen[bytes]]) -> None:
    for child in children:
        if child.poll() is None:
            child.terminate()
    deadline = time.monotonic() + GRACE_S
    for child in children:
        try:
            child.wait(max(0.1, deadline - time.monotonic()))
        except subprocess.TimeoutExpired:
            child.kill()
            child.wait()


def _die_with_parent() -> None:
    # A killed supervisor must not leave servers behind; only Linux offers this.
    if sys.platform == "linux":
        ctypes.CDLL(None).prctl(PR_SET_PDEATHSIG, signal.SIGTERM)


if __name__ == "__main__":
    sys.exit(serve(json.loads(sys.argv[1])))
