"""Starting real processes of a house and speaking to them over the network."""

import os
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import orjson

PATIENCE_S = 120  # a busy machine takes its time to start four processes


def free_port() -> int:
    """A port below the ephemeral range, so that no client connection can be sitting on it."""
    for port in range(20000 + os.getpid() % 5000, 32000):
        with socket.socket() as probe:
            if probe.connect_ex(("127.0.0.1", port)) != 0:
                return port
    raise AssertionError("no free port")


FAST = "DIPLEDGER_REQUESTS_PER_MINUTE"  # tests do in seconds what a house does in weeks


class House:
    """A folder with its environment, in which commands are run."""

    def __init__(self, home: Path, **settings: str) -> None:
        kept = {name: value for name, value in os.environ.items() if not name.startswith("DIPLEDGER_")}
        self.environment: Mapping[str, str] = {
            **kept,
            "DIPLEDGER_HOME": str(home),
            FAST: "1000000",
            **settings,
        }

    def run(self, *arguments: str) -> str:
        command = (sys.executable, "-m", "service", *arguments)
        done = subprocess.run(command, env=self.environment, capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
        return done.stdout.strip()

    @contextmanager
    def started(self, *arguments: str) -> Iterator[subprocess.Popen[bytes]]:
        with self.running((sys.executable, "-m", "service", *arguments)) as process:
            yield process

    @contextmanager
    def running(self, command: Sequence[str]) -> Iterator[subprocess.Popen[bytes]]:
        with subprocess.Popen(command, env=self.environment, stderr=subprocess.DEVNULL) as process:
            try:
                yield process
            finally:
                process.terminate()


def until(what: Callable[[], bool], said: str) -> None:
    """Wait until something is so."""
    deadline = time.monotonic() + PATIENCE_S
    while time.monotonic() < deadline:
        if what():
            return
        time.sleep(0.2)
    raise AssertionError(f"waited in vain: {said}")


def answers(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


def runs(process: int) -> bool:
    """Whether a process is there and not merely waiting to be buried."""
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def get(port: int, path: str, token: str = "") -> tuple[int, Any]:
    return send(port, "GET", path, None, token)


def send(port: int, method: str, path: str, body: Any, token: str, **headers: str) -> tuple[int, Any]:
    data = None if body is None else orjson.dumps(body)
    request = urllib.request.Request(f"http://127.0.0.1:{port}{path}", data, method=method)
    request.add_header("Authorization", f"Bearer {token}")
    request.add_header("Content-Type", "application/json")
    for name, value in headers.items():
        request.add_header(name.replace("_", "-"), value)
    try:
        with urllib.request.urlopen(request, timeout=60) as response:
            return response.status, orjson.loads(response.read())
    except urllib.error.HTTPError as error:
        with error:
            return error.code, orjson.loads(error.read())


def verdicts(port: int) -> dict[str, str]:
    """What /readyz says of each part."""
    return {name: found[0]["status"] for name, found in get(port, "/readyz")[1]["checks"].items()}
