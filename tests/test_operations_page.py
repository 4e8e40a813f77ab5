"""The page for whoever keeps the machine is true: its commands run, its files name what there is."""

import configparser
import os
import re
import subprocess
import sys
from dataclasses import fields
from datetime import timedelta
from pathlib import Path

import pytest
from click import Context, Group
from ruamel.yaml import YAML
from sqlalchemy import insert, text

from service.cli import main
from service.core.clock import utc_now
from service.core.db import Database
from service.core.ids import new_id
from service.core.requests import MAX_BODY
from service.core.settings import Settings, read_settings
from service.tubs.models import TemperatureReading
from service.wiring import MEASURES
from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_lots import tub

ROOT = Path(__file__).parents[1]
TEXT = (ROOT / "docs" / "operations.md").read_text("utf-8")


def blocks(kind: str) -> list[str]:
    return re.findall(rf"^ *```{kind}\n(.*?)^ *```", TEXT, re.DOTALL | re.MULTILINE)


def test_the_commands_of_the_page_run_one_after_the_other(tmp_path: Path) -> None:
    program = tmp_path / "bin" / "dipledger"
    program.parent.mkdir()
    program.write_text(f'#!/bin/sh\nPYTHONPATH={ROOT} exec {sys.executable} -m service "$@"\n')
    program.chmod(0o755)
    kept = {name: value for name, value in os.environ.items() if not name.startswith("DIPLEDGER_")}
    kept["PATH"] = f"{program.parent}{os.pathsep}{kept['PATH']}"
    done = subprocess.run(
        ["sh", "-c", "set -eu\n" + "".join(blocks("sh"))],
        cwd=tmp_path,
        env=kept,
        capture_output=True,
        text=True,
        timeout=240,
        check=False,
    )
    assert done.returncode == 0, done.stdout[-3000:] + done.stderr[-3000:]
    assert "is back, as the house was at" in done.stdout
    assert done.stdout.count("may no longer come in") == 1
    head = (tmp_path / "safe" / "head.txt").read_text().split()[-1]
    assert done.stdout.count(head) >= 3  # kept, restored, and checked again
    assert (tmp_path / "old" / "dipledger.sqlite3").exists()
    assert (tmp_path / "safe" / "secret.key").stat().st_mode & 0o077 == 0


def test_every_command_that_the_page_names_is_there() -> None:
    named = set(re.findall(r"dipledger((?: [a-z]+)+)", TEXT))
    assert len(named) > 15
    for words in named:
        found: object = main
        for word in words.split():
            if isinstance(found, Group):
                asked = found.get_command(Context(found), word)
                assert asked, words
                found = asked


def test_every_setting_that_the_page_names_is_read() -> None:
    known = {f"DIPLEDGER_{field.name.upper()}" for field in fields(Settings)}
    known |= {"DIPLEDGER_SECRET_KEY", "DIPLEDGER_SECRET_KEY_FILE"}
    assert set(re.findall(r"DIPLEDGER_[A-Z_]+", TEXT)) <= known


def test_the_service_file_starts_a_command_there_is(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    class Repeated(dict[str, object]):
        """Keeps every value of a key that stands there more than once."""

        def __setitem__(self, key: str, value: object) -> None:
            before = self.get(key)
            both = isinstance(before, list) and isinstance(value, list) and isinstance(before[0], str)
            super().__setitem__(key, [*before, *value] if both else value)  # type: ignore[misc]  # any key

    unit = configparser.RawConfigParser(strict=False, dict_type=Repeated)  # type: ignore[arg-type]  # a dict
    unit.optionxform = str  # type: ignore[assignment,method-assign]  # its own way
    unit.read_string(blocks("ini")[0])
    program, name, *arguments = unit["Service"]["ExecStart"].split()
    assert program.endswith("/dipledger")
    command = main.get_command(Context(main), name)
    assert command
    command.make_context(name, arguments)
    assert unit["Service"]["Environment"].count("DIPLEDGER_") == 3
    for setting in unit["Service"]["Environment"].split():
        key, _, value = setting.partition("=")
        monkeypatch.setenv(key, value)
    monkeypatch.setenv("DIPLEDGER_SECRET_KEY", "0123456789-abcdefghij-0123456789")
    found = read_settings()
    assert (str(found.home), found.public_url, found.proxies) == (
        "/srv/dipledger",
        "https://plants.example",
        1,
    )


def test_the_rules_to_be_woken_by_are_of_numbers_there_are() -> None:
    [found] = blocks("yaml")
    rules = YAML(typ="safe").load(found)["groups"][0]["rules"]
    used = {name for rule in rules for name in re.findall(r"[a-z]+(?:_[a-z]+)+", rule["expr"])}
    measured = {measure.name for measure in MEASURES} | {"dipledger_database_up"}
    assert used == measured | {"http_server_request_duration_seconds_count"}
    assert all(rule["annotations"]["then"] for rule in rules)


def test_the_proxies_go_to_the_port_that_is_served_and_close_what_is_for_the_machine() -> None:
    port = next(option for option in main.commands["serve"].params if option.name == "port").default
    [nginx] = blocks("nginx")
    assert TEXT.count(f"127.0.0.1:{port}") == 2
    assert "proxy_set_header X-Forwarded-For $proxy_add_x_forwarded_for;" in nginx
    assert TEXT.count("/metrics 404") + nginx.count("/metrics { return 404; }") == 2
    [limit] = re.findall(r"client_max_body_size (\d+)m", nginx)
    assert int(limit) * 2**20 > MAX_BODY


@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
def test_lots_and_readings_take_no_more_room_than_the_page_says(api: Api, database: Database) -> None:
    [of_a_lot] = re.findall(r"a lot takes less than (\d+) kB", TEXT)
    [of_a_reading] = re.findall(r"less than ([\d.]+) kB: a logger", TEXT)
    [a_year] = re.findall(r"less than (\d+) MB a year", TEXT)
    bench = Bench(api, age=50)
    bench.batch("potassium-alum", 2, "kg")
    bench.cleared_lot(30, bench.tub("A1"))  # the first one brings a supplier along
    other = bench.tub("A2")
    before = size(database)
    bench.cleared_lot(30, other)
    assert size(database) - before < float(of_a_lot) * 1000
    where, before = tub(database, "T1"), size(database)
    now = utc_now()
    with database.writing() as session:
        page = [
            {
                "id": new_id(),
                "tub_id": where,
                "at": now - timedelta(minutes=15 * n),
                "celsius": 21.5,
                "entered": {"value": 21.5, "unit": "Cel"},
                "recorded_at": now,
                "by": "logger",
            }
            for n in range(4_000)
        ]
        session.execute(insert(TemperatureReading), page)
    a_reading = (size(database) - before) / 4_000
    assert a_reading < float(of_a_reading) * 1000
    assert a_reading * 4 * 24 * 365.25 < float(a_year) * 1e6


def size(database: Database) -> int:
    """Of the file, in bytes."""
    with database.reading() as session:
        pages = session.scalar(text("PRAGMA page_count")) or 0
        free = session.scalar(text("PRAGMA freelist_count")) or 0
        return int(pages - free) * int(session.scalar(text("PRAGMA page_size")) or 0)
