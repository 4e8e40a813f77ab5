"""What nobody here thought of sending: schemathesis, a public tool, tries the whole of `/openapi.json`.

It holds every answer against the document, sends what the document allows and what it does not, at the bounds
and by chance (the same chance in every run), and follows one act by another. The settings leave nothing out.
"""

import subprocess
import sys
from pathlib import Path

import pytest
from flask import Flask

from service.accounts.rules import Role
from tests.api import Api, Contract
from tests.soak import figure

HERE = Path(__file__).parent
# Cases at the bounds are minutes of refusals before any database: in the gate SQLite alone has them.
BY_CHANCE = "examples,fuzzing,stateful"
AT_THE_BOUNDS = f"coverage,{BY_CHANCE}"


@pytest.mark.promise(r=20)
@pytest.mark.soak
def test_no_request_finds_a_failure(
    served: tuple[Flask, Contract], api: Api, running: str, database_kind: str, tmp_path: Path
) -> None:
    both = figure(gate=0, full=1)
    command = [
        str(Path(sys.executable).parent / "schemathesis"),
        *("--config-file", str(HERE / "schemathesis.toml"), "run", f"{running}/openapi.json"),
        *("--header", f"Authorization: Bearer {api.tokens[Role.OWNER]}"),
        *("--phases", AT_THE_BOUNDS if both or database_kind == "sqlite" else BY_CHANCE),
        *("--max-examples", str(figure(gate=2, full=30)), "--continue-on-failure", "--no-color"),
    ]
    done = subprocess.run(command, cwd=tmp_path, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-20_000:] + done.stderr[-5_000:]
    paths = served[1].document["paths"].values()
    operations = sum(len(item) - ("parameters" in item) for item in paths)
    assert f"{operations} selected / {operations} total" in done.stdout
    assert api.auditor.seen("/audit/check")["intact"]
