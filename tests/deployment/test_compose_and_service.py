"""What the compose file and the image ask of the service is there: commands, settings, the probe."""

import re
from dataclasses import fields
from pathlib import Path

import pytest
from click import Context, Group

from service.app import create_app
from service.cli import main
from service.core.settings import Settings
from tests.deployment.composition import OURS, ROOT, services
from tests.house import settings_for

PROBE = re.compile(r"http://127\.0\.0\.1:8000(/\w+)")


def understood(command: list[str]) -> None:
    """Let `dipledger` read the command without doing it; raises what it would refuse with."""
    program, name, *arguments = command
    assert program == "dipledger"
    assert isinstance(main, Group)
    command_there = main.get_command(Context(main), name)
    assert command_there
    command_there.make_context(name, arguments)


@pytest.mark.parametrize("name", OURS)
def test_each_of_our_processes_starts_with_a_command_there_is(name: str) -> None:
    understood(services()[name]["command"])


def test_every_setting_the_processes_get_is_one_that_is_read() -> None:
    known = {f"DIPLEDGER_{field.name.upper()}" for field in fields(Settings)} | {"DIPLEDGER_SECRET_KEY"}
    assert services()["web"]["environment"].keys() <= known


@pytest.mark.parametrize("file", ["docker-compose.yml", "Dockerfile"])
def test_the_health_check_asks_a_route_there_is(file: str, tmp_path: Path) -> None:
    app = create_app(settings_for("sqlite://", tmp_path), wake=lambda: None)
    asked = set(PROBE.findall((ROOT / file).read_text("utf-8")))
    assert asked == {"/readyz"}
    assert asked <= {rule.rule for rule in app.url_map.iter_rules()}
