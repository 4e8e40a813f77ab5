"""Starts one server and outlives whoever asked for it just long enough to stop it and to remove its folder.

A process of its own, because nothing inside the launcher survives its SIGKILL. Chosen over Linux's
parent-death signal: that one needs code between fork and exec (unsafe beside threads), fires when the
starting *thread* ends, exists on one system only, and leaves the folder behind. Only the standard library.

Run as: python guard.py LAUNCHER FOLDER STOP_SIGNAL USER COMMAND...   (USER "-" means: stay who you are)
"""

import contextlib
import os
import pwd
import select
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from typing import Any

TICK_S = 0.25
PATIENCE_S = 5.0


def main(arguments: Sequence[str]) -> None:
    """Run the server until it ends or the launcher does."""
    launcher, folder, stop_signal, user, *command = arguments
    signal.signal(signal.SIGTERM, lambda *_: sys.exit("The guard was told to stop."))
    try:
        server = start(command, folder, user)
        try:
            while server.poll() is None and launcher_lives(int(launcher)):
                pass
        finally:
            stop(server, int(stop_signal))
    finally:
        shutil.rmtree(folder, ignore_errors=True)


def run_as(user: str) -> dict[str, Any]:
    """The arguments of `subprocess` that drop every privilege to `user`; none for "-"."""
    if user == "-":
        return {}
    account = pwd.getpwnam(user)
    return {"user": account.pw_uid, "group": account.pw_gid, "extra_groups": []}


def start(command: Sequence[str], folder: str, user: str) -> subprocess.Popen[bytes]:
    """Start the server in its folder and a process group of its own; it says what it says where we do."""
    return subprocess.Popen(
        command,
        cwd=folder,
        stdin=subprocess.DEVNULL,
        stderr=subprocess.STDOUT,
        start_new_session=True,
        **run_as(user),
    )


def launcher_lives(launcher: int) -> bool:
    """Wait a tick; False at once when the launcher closed its end of the pipe, or within a tick of its death.

    The second look is for a launcher whose forked child still holds the pipe open.
    """
    closed, _, _ = select.select([sys.stdin], [], [], TICK_S)
    return not closed and os.getppid() == launcher


def stop(server: subprocess.Popen[bytes], stop_signal: int) -> None:
    """Ask the server to stop, then make it and all it started."""
    server.send_signal(stop_signal)
    deadline = time.monotonic() + PATIENCE_S
    while server.poll() is None and time.monotonic() < deadline:
        time.sleep(0.01)
    with contextlib.suppress(ProcessLookupError):
        os.killpg(server.pid, signal.SIGKILL)
    server.wait()


if __name__ == "__main__":
    main(sys.argv[1:])
