"""The demo's house: a folder of its own, the service started in it, and tokens."""

import os
import shutil
import signal
import subprocess
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from service.demo.client import Client

HOME = Path("var/demo")
COMMAND = (sys.executable, "-m", "service")


@contextmanager
def started(port: int) -> Iterator[dict[str, Client]]:
    """Make a fresh house, start the service in it, and give a client for each role."""
    shutil.rmtree(HOME, ignore_errors=True)
    environment = {
        **{name: value for name, value in os.environ.items() if not name.startswith("DIPLEDGER_")},
        "DIPLEDGER_HOME": str(HOME),
        "DIPLEDGER_REQUESTS_PER_MINUTE": "1000000",  # six weeks pass in a minute
        "DIPLEDGER_PUBLIC_URL": f"http://127.0.0.1:{port}",
    }
    _run(environment, "init")
    tokens = {
        role: _run(environment, "token", "create", "--name", f"demo {role}", "--role", role) for role in ROLES
    }
    for name, role in PEOPLE.items():
        _run(environment, "user", "add", "--name", name, "--role", role, "--password-stdin", typed=PASSWORD)
    _keep(tokens)
    with subprocess.Popen((*COMMAND, "serve", "--port", str(port)), env=environment) as service:
        try:
            clients = {role: Client(f"http://127.0.0.1:{port}", token) for role, token in tokens.items()}
            clients["owner"].wait_until_up(120)
            yield clients
        finally:
            service.send_signal(signal.SIGTERM)


ROLES = ("owner", "manager", "grower", "seller", "shop")


PEOPLE = {"Maren": "owner", "Tobi": "grower", "Anouk": "seller"}
PASSWORD = "three reeds by the water"  # of a house that is made anew each time and holds nothing of worth


def _run(environment: dict[str, str], *arguments: str, typed: str = "") -> str:
    command = (*COMMAND, *arguments)
    done = subprocess.run(
        command, env=environment, check=False, capture_output=True, text=True, input=f"{typed}\n"
    )
    if done.returncode:
        sys.exit(f"'dipledger {' '.join(arguments)}' failed:\n{done.stderr}")
    return done.stdout.strip()


def _keep(tokens: dict[str, str]) -> None:
    file = HOME / "tokens.txt"
    file.touch(mode=0o600)
    file.write_text("".join(f"{role} {token}\n" for role, token in tokens.items()), "utf-8")
