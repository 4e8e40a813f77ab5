"""The audit says what is known to be unsafe, and never that all is well when it could ask nobody."""

import json
import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

AUDIT = Path(__file__).parents[2] / "requirements" / "audit.py"
SAFE = {"name": "flask", "version": "3.1.3", "vulns": []}
UNSAFE = {"name": "jinja2", "version": "2.0", "vulns": [{"id": "PYSEC-2019-217"}]}
UNKNOWN = {"name": "alembic", "skip_reason": "Dependency not found on PyPI and could not be audited"}


@pytest.mark.parametrize(
    ("packages", "code", "said"),
    [
        ([SAFE, UNKNOWN], 0, "0 unsafe of 1 asked about, 2 in all."),
        ([SAFE, UNSAFE], 1, "jinja2 2.0: PYSEC-2019-217\n1 unsafe of 2 asked about, 2 in all."),
        ([UNKNOWN], 0, "NOTHING was checked"),
        (None, 0, "NOTHING was checked"),
    ],
    ids=["safe", "unsafe", "nothing-known", "no-answer"],
)
def test_the_audit_reads_what_it_was_told(packages: Any, code: int, said: str, tmp_path: Path) -> None:
    # Stands in for pip-audit: what that asks is on the internet.
    told = "" if packages is None else json.dumps({"dependencies": packages, "fixes": []})
    program = tmp_path / "pip-audit"
    program.write_text(f"#!/bin/sh\ncat <<'END'\n{told}\nEND\n")
    program.chmod(0o755)
    done = subprocess.run(
        [sys.executable, str(AUDIT), str(tmp_path)], capture_output=True, text=True, check=False
    )
    assert (done.returncode, said in done.stdout) == (code, True), done.stdout + done.stderr
