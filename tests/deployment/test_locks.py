"""The locks name every distribution with its release and hashes, and no place to get it from."""

import re
import tomllib
from pathlib import Path

import pytest

from tests.deployment.composition import ROOT

LOCKS = sorted((ROOT / "requirements").glob("*.txt"))
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
ENTRY = re.compile(
    r"^([\w.-]+)(?:\[[\w,-]+\])?==(\S+)(?: ; .+?)? \\\n((?:    --hash=sha256:[0-9a-f]{64}(?: \\)?\n)+)", re.M
)


def entries(lock: Path) -> dict[str, str]:
    return {name: release for name, release, _ in ENTRY.findall(lock.read_text("utf-8"))}


def names(requirements: list[str]) -> set[str]:
    return {re.split(r"[\[<>=!~; ]", requirement, maxsplit=1)[0] for requirement in requirements}


def test_the_locks_are_those_that_make_uses() -> None:
    assert [lock.stem for lock in LOCKS] == [
        "audit",
        "build",
        "dev",
        "lock",
        "postgresql-client",
        "redis-server",
        "run",
    ]


@pytest.mark.parametrize("lock", LOCKS, ids=lambda lock: str(lock.name))
def test_every_line_of_a_lock_is_a_pinned_entry_with_hashes_or_a_remark(lock: Path) -> None:
    rest = re.sub(r"^ *#.*\n", "", ENTRY.sub("", lock.read_text("utf-8")), flags=re.MULTILINE)
    assert rest.strip() == ""
    assert entries(lock)


@pytest.mark.parametrize("lock", LOCKS, ids=lambda lock: str(lock.name))
def test_a_lock_names_no_index_and_no_folder_of_a_machine(lock: Path) -> None:
    assert not re.search(r"://|--(extra-)?index|--find-links| @ |(?<=[\s=])/\w", lock.read_text("utf-8"))


def test_what_the_project_asks_for_is_locked() -> None:
    assert names(PROJECT["project"]["dependencies"]) <= entries(ROOT / "requirements" / "run.txt").keys()
    assert names(PROJECT["dependency-groups"]["dev"]) <= entries(ROOT / "requirements" / "dev.txt").keys()
    assert names(PROJECT["build-system"]["requires"]) <= entries(ROOT / "requirements" / "build.txt").keys()


def test_the_tests_run_on_exactly_what_the_service_runs_on() -> None:
    run, dev = (entries(ROOT / "requirements" / name) for name in ("run.txt", "dev.txt"))
    assert run.items() <= dev.items()
