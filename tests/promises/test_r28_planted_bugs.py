"""R28: every bug of a list is noticed by the test that is named for it, which passes without the bug."""

import os
import shutil
import subprocess
import sys
from collections.abc import Iterator
from itertools import count
from pathlib import Path

import pytest

from tests.promises.planted import BUGS, ROOT, Bug
from tests.soak import figure

GATE = (2,)  # one that needs no database; the soak has all
PASSED, FAILED = 0, 1  # exit codes of pytest; others mean that it could not run
MOMENTS = count(1)


@pytest.fixture(scope="module")
def tree(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Path]:
    """A copy of the sources to plant bugs in."""
    copy = tmp_path_factory.mktemp("planted")
    for name in ("service", "worker", "migrations", "tests"):
        shutil.copytree(ROOT / name, copy / name, ignore=shutil.ignore_patterns("*.png"))
    shutil.copy(ROOT / "pyproject.toml", copy)
    (copy / "docs").symlink_to(ROOT / "docs")
    (copy / ".venv").symlink_to(ROOT / ".venv")
    yield copy
    shutil.rmtree(copy)


def tried(tree: Path, bug: Bug) -> int:
    """How the test of a bug ends in that tree."""
    file = tree / bug.file
    moment = file.stat().st_mtime + next(MOMENTS)
    os.utime(file, (moment, moment))  # a former compilation counts no more
    command = [sys.executable, "-m", "pytest", "-q", "-x", "-n", "0", "-p", "no:cacheprovider"]
    command += ["-k", "not postgresql", f"tests/{bug.caught_by}"]
    outside = {name: value for name, value in os.environ.items() if not name.startswith(("PYTEST", "COV"))}
    return subprocess.run(command, cwd=tree, env=outside, capture_output=True, check=False).returncode


def test_each_bug_can_be_planted_and_has_its_test() -> None:
    assert len(BUGS) >= 20
    for bug in BUGS:
        assert (ROOT / bug.file).read_text("utf-8").count(bug.was) == 1, bug
        assert bug.was != bug.becomes
        file, _, name = bug.caught_by.partition("::")
        assert f"def {name}(" in (ROOT / "tests" / file).read_text("utf-8"), bug


@pytest.mark.promise(r=28)
@pytest.mark.soak
@pytest.mark.parametrize("n", range(len(BUGS)) if figure(gate=0, full=1) else GATE)
def test_a_planted_bug_is_caught(tree: Path, n: int) -> None:
    if figure(gate=0, full=1):  # in the gate that test runs by itself anyway
        assert tried(tree, BUGS[n]) == PASSED
    right = BUGS[n].planted(tree)
    try:
        assert tried(tree, BUGS[n]) == FAILED
    finally:
        (tree / BUGS[n].file).write_text(right, "utf-8")
