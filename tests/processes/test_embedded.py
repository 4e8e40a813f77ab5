"""`dipledger serve`: one process tree on SQLite and a folder, nothing to install."""

import os
import signal
from pathlib import Path

import pytest

from tests.processes.house import (
    House,
    answers,
    free_port,
    get,
    runs,
    send,
    until,
    verdicts,
)
from tests.servers.kin import below

SUPPLIER = {"name": "Fenmarsh Growers", "country": "NL"}


def test_a_house_is_made_served_and_stopped_whole(tmp_path: Path) -> None:
    house, port = House(tmp_path / "home"), free_port()
    house.run("init")
    token = house.run("token", "create", "--role", "owner", "--name", "Ana")
    with house.started("serve", "--port", str(port)) as tree:
        until(lambda: answers(port), "the web answers")
        assert send(port, "POST", "/api/v1/suppliers", SUPPLIER, token)[0] == 201
        until(lambda: verdicts(port)["beat"] == "pass", "beat and worker run")
        assert set(verdicts(port).values()) == {"pass"}
        tree.send_signal(signal.SIGTERM)
        assert tree.wait(20) == 0
    until(lambda: not answers(port), "the web is gone")
    assert "intact" in house.run("journal", "check")


@pytest.mark.promise(r=1)
def test_a_killed_tree_leaves_no_process_behind_and_no_acknowledged_act_is_lost(tmp_path: Path) -> None:
    house, port = House(tmp_path / "home"), free_port()
    house.run("init")
    token = house.run("token", "create", "--role", "owner", "--name", "Ana")
    with house.started("serve", "--port", str(port)) as tree:
        until(lambda: answers(port), "the web answers")
        assert send(port, "POST", "/api/v1/suppliers", SUPPLIER, token)[0] == 201
        tree.kill()
    until(lambda: not answers(port), "the orphaned web is gone")
    with house.started("serve", "--port", str(port)):
        until(lambda: answers(port), "the web answers again")
        assert [item["name"] for item in get(port, "/api/v1/suppliers", token)[1]["items"]] == [
            SUPPLIER["name"]
        ]


@pytest.mark.promise(r=27)
def test_without_a_secret_nothing_starts_and_the_remedy_is_named(tmp_path: Path) -> None:
    house = House(tmp_path / "home")
    with house.started("serve", "--port", str(free_port())) as tree:
        assert tree.wait(20) == 1


def test_a_web_server_that_dies_while_it_starts_leaves_no_process_behind(tmp_path: Path) -> None:
    # From its fork until the application is loaded a worker of granian hears no SIGTERM.
    house, port = House(tmp_path / "home"), free_port()
    house.run("init")
    with house.started("web", "--port", str(port)) as web:
        until(lambda: len(below(web.pid)) > 1, "server and worker are there")
        left = below(web.pid)
        assert not answers(port)
        web.kill()
    try:
        until(lambda: not any(runs(process) for process in left), "server and worker are gone")
    finally:
        for process in filter(runs, left):
            os.kill(process, signal.SIGKILL)
