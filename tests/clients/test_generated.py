"""A typed client that nobody here wrote, made of `/openapi.json` by a public generator, does the main job."""

import os
import re
import subprocess
import sys
from pathlib import Path

import orjson
import pytest
from flask import Flask

from service.accounts.rules import Role
from tests.api import Api, Contract

HERE = Path(__file__).parent
JOB = HERE / "main_job.py"


@pytest.fixture(scope="session")
def generated(served: tuple[Flask, Contract], tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The folder with the generated package."""
    folder = tmp_path_factory.mktemp("generated")
    document = folder / "openapi.json"
    document.write_bytes(orjson.dumps(served[1].document))
    said = run(
        "openapi-python-client",
        *("generate", "--path", str(document), "--config", str(HERE / "generator.yml")),
        *("--meta", "none", "--output-path", str(folder / "dipledger_client")),
    )
    # What the generator leaves out is bodies it cannot send, files and pictures; it understands all the rest.
    cannot = re.findall(r"Unsupported content type (?:text/csv|image/\w+)", said)
    assert said.count("WARNING") == len(cannot), said
    return folder


def run(program: str, *arguments: str, path: Path | None = None) -> str:
    """Run a program of this environment; gives what it said."""
    tools = Path(sys.executable).parent
    environment = {**os.environ, "PATH": f"{tools}{os.pathsep}{os.environ['PATH']}", "MYPYPATH": f"{path}"}
    command = [str(tools / program), *arguments]
    done = subprocess.run(
        command, env={**environment, "PYTHONPATH": f"{path}"}, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout + done.stderr


def test_the_generated_types_fit_a_program_that_does_the_main_job(generated: Path) -> None:
    strict = ("--strict", "--follow-imports=silent", "--config-file=", "--cache-dir", str(generated / "mypy"))
    run("mypy", *strict, str(JOB), path=generated)


def test_the_main_job_by_the_generated_client(generated: Path, api: Api, running: str) -> None:
    tokens = (api.tokens[Role.GROWER], api.tokens[Role.MANAGER])
    serial = run("python", str(JOB), running, *tokens, path=generated).strip()
    certificate = api.auditor.seen(f"/certificates/{serial}")
    assert (certificate["status"], certificate["quantity"]) == ("valid", 30)
    [dispatch] = api.auditor.seen("/dispatches")["items"]
    assert (dispatch["order_ref"], [line["quantity"] for line in dispatch["lines"]]) == ("W-1001", [6])
