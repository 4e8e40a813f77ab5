"""The page for those who plug in is true: its catalogue is whole, its code runs and does what it says."""

import os
import re
import socket
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import orjson
import pytest
from werkzeug.serving import make_server

from service.accounts.rules import Role
from service.exchange.rules import envelope, events_of
from service.exchange.rules_epcis import epcis_events
from service.exchange.rules_epcis_words import Known, Site
from service.exchange.rules_retry import DELAYS
from service.exchange.rules_told import FOR_SHOPS, EventType
from tests.api import Api
from tests.exchange.cloud_events import faults
from tests.exchange.conftest import Post, post, settings  # noqa: F401  # fixtures
from tests.exchange.test_rules import CASES, LOTS
from tests.make_lots import received_lot
from tests.processes.house import free_port, until

TEXT = (Path(__file__).parents[1] / "docs" / "integration.md").read_text("utf-8")
PYTHON = re.findall(r"^```python\n(.*?)^```", TEXT, re.DOTALL | re.MULTILINE)
ROW = re.compile(r"^\| `([a-z_.]+)` \| .*? \| `([a-z-]+)/.*? \| (.*?) \| (yes|no) \|$", re.MULTILINE)
CATALOGUE = {row[0]: row[1:] for row in ROW.findall(TEXT)}
UNTOLD = {"lot.hold_lifted", "certificate.superseded", "stock.recovered"}  # like one beside them in MAKERS


def test_the_catalogue_has_every_type_and_says_what_a_shop_sees() -> None:
    assert set(CATALOGUE) == {type_.value for type_ in EventType}
    assert {type_ for type_, row in CATALOGUE.items() if row[2] == "yes"} == {t.value for t in FOR_SHOPS}


def test_the_catalogue_says_the_subject_and_the_data_of_each() -> None:
    seen = set()
    for entry, _ in CASES:
        for event in events_of(entry, LOTS):
            subject, members, _shop = CATALOGUE[event.type]
            assert event.subject.startswith(f"{subject}/")
            assert set(event.data) <= set(re.findall(r"`(\w+)`", members)), event.type
            seen.add(event.type.value)
    assert seen == set(CATALOGUE) - UNTOLD


def test_the_envelope_on_the_page_is_one() -> None:
    [shown] = re.findall(r"^```json\n(.*?)^```", TEXT, re.DOTALL | re.MULTILINE)
    event = orjson.loads(shown)
    assert faults(event) == []
    [real, *_] = [e for entry, _ in CASES for e in events_of(entry, LOTS) if e.type == event["type"]]
    assert list(event) == list(envelope(real, "https://nursery.example"))
    assert list(event["data"]) == list(real.data)


def test_the_page_names_the_delays() -> None:
    words = [_words(delay.total_seconds()) for delay in DELAYS]
    assert f"{', '.join(words[:-1])} and {words[-1]}" in TEXT


def _words(seconds: float) -> str:
    for size, unit in ((3600, "h"), (60, "min"), (1, "s")):
        if seconds >= size:
            return f"{seconds / size:g} {unit}"
    raise AssertionError(seconds)


@contextmanager
def running(code: str, **environment: str) -> Iterator[subprocess.Popen[str]]:
    """The code of the page as a program of its own."""
    command = [sys.executable, "-c", code]
    with subprocess.Popen(
        command, env={**os.environ, **environment}, stdout=subprocess.PIPE, text=True
    ) as program:
        try:
            yield program
        finally:
            program.kill()


def listening(port: int) -> bool:
    with socket.socket() as probe:
        return probe.connect_ex(("127.0.0.1", port)) == 0


@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
def test_the_receiver_takes_what_is_genuine_once_and_nothing_else(post: Post) -> None:  # noqa: F811
    port = free_port()
    made = post.api.owner.made(
        "/webhooks", {"name": "page", "url": f"http://127.0.0.1:{port}/", "types": ["lot.received"]}
    )
    with running(PYTHON[1], WEBHOOK_SECRET=made["secret"], PORT=str(port)) as receiver:
        until(lambda: listening(port), "the receiver of the page")
        lot = received_lot(post.api)["id"]
        assert post.round() == 1
        [delivery] = post.deliveries(made)
        assert delivery["state"] == "delivered"
        post.api.owner.made(f"/deliveries/{delivery['id']}/redelivery")
        post.round()
        post.api.owner.made(f"/webhooks/{made['id']}/rotation", {"overlap_hours": 0})
        other = received_lot(post.api)["id"]
        post.round()
        refused = post.deliveries(made)[-1]
        assert (refused["state"], refused["last_status"]) == ("waiting", 401)
        receiver.kill()
        printed = receiver.stdout.read() if receiver.stdout else ""
    assert printed.splitlines() == [f"lot.received lots/{lot}"]
    assert other not in printed


@pytest.mark.parametrize("database_kind", ["sqlite"], indirect=True)
def test_the_puller_of_the_page_gets_every_event(api: Api) -> None:
    lots = [received_lot(api)["id"] for _ in range(3)]
    server = make_server("127.0.0.1", 0, api.app)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    try:
        address = f"http://127.0.0.1:{server.server_port}/api/v1"
        with running(PYTHON[0], API=address, TOKEN=api.tokens[Role.AUDITOR]) as puller:
            printed, _ = puller.communicate(timeout=60)
    finally:
        server.shutdown()
        thread.join()
        server.server_close()
    *told, place = printed.splitlines()
    assert told == [f"lot.received lots/{lot}" for lot in lots]
    assert place == f"go on after {api.owner.seen('/events')['after']}"


def test_the_steps_of_epcis_on_the_page_are_those_that_are_written() -> None:
    lots: dict[str, Any] = {"a": ("1", None), "b": ("2", None), "c": ("3", None)}
    known = Known(Site("{house}", "UTC"), lots)
    table = TEXT[TEXT.index("## EPCIS") :]
    for entry, _ in CASES:
        told = entry.kind in {"lot.received", "treatment.finished", "lot.held", "recall.started"}
        for event in epcis_events(entry, known) if told else ():
            row = rf"\| `{re.escape(event['bizStep'])}` \| `{event['disposition']}` \|"
            assert re.search(row, table), event
