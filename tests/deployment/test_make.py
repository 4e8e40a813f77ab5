"""`make` explains itself, refuses an old Python with a clear sentence, and does what the README says."""

import os
import re
import subprocess
from pathlib import Path

from tests.deployment.composition import ROOT

MAKEFILE = (ROOT / "Makefile").read_text("utf-8")
# Run from `make test` itself, a make must not take over its parent's flags and job server.
ENVIRONMENT = {name: value for name, value in os.environ.items() if not name.startswith(("MAKE", "MFLAGS"))}


def make(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        ["make", *arguments], cwd=ROOT, env=ENVIRONMENT, capture_output=True, text=True, check=False
    )


def test_make_alone_lists_every_target_with_what_it_does() -> None:
    declared = re.search(r"^\.PHONY: (.+)$", MAKEFILE, re.MULTILINE)
    assert declared is not None
    shown = re.findall(r"^  make ([a-z-]+) +\S", make().stdout, re.MULTILINE)
    assert sorted(shown) == sorted(declared[1].split())


def test_a_second_run_with_once_ends_the_demo_and_without_leaves_it_up() -> None:
    assert "-m service.demo --once" in make("--dry-run", "demo", "ONCE=1").stdout
    assert "-m service.demo\n" in make("--dry-run", "demo").stdout.replace(
        "service.demo \n", "service.demo\n"
    )


def test_calculations_and_rules_must_be_covered_whole_and_everything_by_nine_tenths() -> None:
    plan = make("--dry-run", "test").stdout
    assert re.search(r"report --include='service/science/\*,service/\*/rules\.py,\S*' --fail-under=100", plan)
    assert re.search(r"report --fail-under=90", plan)


def test_an_old_python_is_refused_with_a_sentence_and_leaves_nothing(tmp_path: Path) -> None:
    old = tmp_path / "python3.10"
    old.write_text("#!/bin/sh\nexit 1\n")
    old.chmod(0o755)
    result = make("install", f"PYTHON={old}", f"VENV={tmp_path / 'venv'}")
    assert result.returncode != 0
    assert "Python 3.11 or newer is needed" in result.stderr
    assert not (tmp_path / "venv").exists()


def test_ci_runs_the_checks_and_the_tests_through_make() -> None:
    script = ROOT / ".ci" / "run"
    assert os.access(script, os.X_OK)
    assert subprocess.run(["bash", "-n", script], check=False).returncode == 0
    assert {"make lint", "make test"} <= set(script.read_text("utf-8").splitlines())
