"""docker-compose.yml hangs together: its schema, and what no schema sees."""

import re
import subprocess
import sys
from typing import Any

import pytest

from tests.deployment.composition import COMPOSE_FILE, OURS, ROOT, composition, services, variables

LOOPBACK_PORT = re.compile(r"127\.0\.0\.1:\d+:\d+")
EXACT_IMAGE = re.compile(r"[a-z]+:\d+\.\d+(\.\d+)?(-[a-z]+)?")


def test_it_keeps_to_the_compose_specification() -> None:
    # Oracle: the JSON schema of the Compose Specification as vendored in check-jsonschema.
    check = [sys.executable, "-m", "check_jsonschema", "--builtin-schema", "vendor.compose-spec"]
    result = subprocess.run([*check, str(COMPOSE_FILE)], capture_output=True, text=True, check=False)
    assert result.returncode == 0, result.stdout + result.stderr


@pytest.mark.parametrize("service", services().values(), ids=services())
def test_a_service_waits_only_for_services_that_can_become_what_it_waits_for(service: dict[str, Any]) -> None:
    for name, wait in service.get("depends_on", {}).items():
        awaited = services()[name]
        if wait["condition"] == "service_healthy":
            assert awaited["healthcheck"]["test"]
        else:
            assert wait["condition"] == "service_completed_successfully"
            assert awaited["restart"] == "no"


@pytest.mark.parametrize("service", services().values(), ids=services())
def test_a_service_mounts_only_volumes_that_are_declared(service: dict[str, Any]) -> None:
    mounted = {volume.split(":")[0] for volume in service.get("volumes", [])}
    assert mounted <= set(composition()["volumes"])


@pytest.mark.promise(r=27)
@pytest.mark.parametrize("service", services().values(), ids=services())
def test_a_service_is_reachable_from_this_machine_only(service: dict[str, Any]) -> None:
    assert all(LOOPBACK_PORT.fullmatch(port) for port in service.get("ports", []))
    assert "network_mode" not in service


@pytest.mark.parametrize("service", services().values(), ids=services())
def test_a_service_names_an_exact_release_of_its_image(service: dict[str, Any]) -> None:
    assert EXACT_IMAGE.fullmatch(service["image"])


def test_what_holds_data_keeps_it_in_a_volume() -> None:
    targets = {volume.split(":")[1] for service in services().values() for volume in service["volumes"]}
    # Since PostgreSQL 18 the image keeps its data below /var/lib/postgresql, no more in ".../data".
    assert targets == {"/var/lib/postgresql", "/data", "/var/lib/dipledger"}


@pytest.mark.promise(r=2)
def test_redis_keeps_what_it_was_given_and_never_evicts() -> None:
    command = services()["redis"]["command"]
    options = dict(zip(command[1::2], command[2::2], strict=True))
    assert options["--appendonly"] == "yes"
    assert options["--maxmemory-policy"] == "noeviction"


def test_every_variable_stands_in_the_example_and_stops_the_start_when_it_is_needed_and_missing() -> None:
    example = set(re.findall(r"^(\w+)=", (ROOT / ".env.example").read_text("utf-8"), re.MULTILINE))
    assert {name for name, _ in variables()} == example
    optional = {name for name, rest in variables() if not rest.startswith(":?")}
    assert optional == {"DIPLEDGER_WEBHOOK_ALLOW"}  # none: events go to the public network alone


@pytest.mark.promise(r=27)
def test_the_example_holds_no_secret() -> None:
    secrets = re.findall(
        r"^(\w+(?:PASSWORD|SECRET_KEY))=(.*)$", (ROOT / ".env.example").read_text("utf-8"), re.M
    )
    assert len(secrets) == 3
    assert all(value == "" for _, value in secrets)


def test_web_worker_beat_and_migration_run_the_same_image_in_the_same_surroundings() -> None:
    assert len({services()[name]["image"] for name in OURS}) == 1
    assert len({str(services()[name]["environment"]) for name in OURS}) == 1


def test_web_worker_and_beat_wait_for_the_migration_and_for_redis() -> None:
    for name in ("web", "worker", "beat"):
        assert services()[name]["depends_on"].keys() >= {"migrate", "redis"}


def test_there_is_exactly_one_beat() -> None:
    beats = [service for service in services().values() if "beat" in service.get("command", [])]
    assert len(beats) == 1
    assert beats[0]["deploy"]["replicas"] == 1


@pytest.mark.parametrize("name", list(services()))
def test_a_service_can_take_no_more_than_the_machine_can_spare(name: str) -> None:
    service = services()[name]
    assert {"mem_limit", "pids_limit"} <= service.keys()


def test_what_is_in_progress_is_given_time_to_end() -> None:
    for name in ("web", "worker", "beat", "postgres"):
        assert int(services()[name]["stop_grace_period"].removesuffix("s")) >= 30


def test_a_migration_takes_a_backup_first() -> None:
    assert services()["migrate"]["command"] == ["dipledger", "db", "upgrade"]


@pytest.mark.promise(r=27)
@pytest.mark.parametrize("name", OURS)
def test_our_processes_cannot_raise_their_privileges_or_write_outside_their_home(name: str) -> None:
    service = services()[name]
    assert service["read_only"] is True
    assert service["cap_drop"] == ["ALL"]
    assert "no-new-privileges:true" in service["security_opt"]
