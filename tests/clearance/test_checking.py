"""The public check cannot be used to find numbers out: who asks for too many that are none has to wait."""

from dataclasses import replace
from itertools import product
from typing import Any

import pytest
from flask import Flask
from werkzeug.test import TestResponse

from service.app import create_app
from service.clearance.models import MissedCheck
from service.core.db import Database
from service.core.ids import new_serial
from service.core.settings import Settings
from tests.journeys.bench import Bench

JSON = "application/json"


@pytest.fixture
def asked(settings: Settings, database: Database) -> Any:
    return _asking(create_app(settings, database, lambda: None))


def _asking(app: Flask) -> Any:
    client = app.test_client()

    def ask(serial: str, address: str = "192.0.2.7", accept: str = JSON, **headers: str) -> TestResponse:
        said = {name.replace("_", "-"): value for name, value in headers.items()}
        environ = {"REMOTE_ADDR": address}
        return client.get(f"/c/{serial}", headers={"Accept": accept, **said}, environ_base=environ)

    return ask


def exhausted(asked: Any, address: str, misses: int = 30) -> None:
    for _ in range(misses):
        assert asked(new_serial(), address).status_code == 404


@pytest.mark.promise(r=25)
def test_who_asks_for_too_many_unknown_numbers_has_to_wait_and_is_told_how_long(asked: Any) -> None:
    exhausted(asked, "192.0.2.7")
    refused = asked(new_serial())
    assert (refused.status_code, refused.mimetype) == (429, "application/problem+json")
    assert 14 * 60 < int(refused.headers["Retry-After"]) <= 15 * 60
    assert "Wait 15 minutes" in refused.get_json()["detail"]
    page = asked(new_serial(), accept="text/html")
    assert (page.status_code, page.mimetype) == (429, "text/html")
    assert "Wait 15 minutes" in page.get_data(as_text=True)


@pytest.mark.promise(r=25)
def test_who_has_to_wait_learns_of_no_number_and_others_are_not_held_up(bench: Bench, served: Any) -> None:
    tub = bench.tub("Q1")
    serial = bench.see(bench.cleared_lot(tub=tub))["certificate_serial"]
    asked = _asking(served[0])
    exhausted(asked, "192.0.2.7")
    assert asked(serial).status_code == asked(new_serial()).status_code == 429
    assert asked(serial, "192.0.2.8").status_code == 200


def test_checking_what_stands_is_never_counted(bench: Bench, served: Any, database: Database) -> None:
    serial = bench.see(bench.cleared_lot(tub=bench.tub("Q1")))["certificate_serial"]
    asked = _asking(served[0])
    assert {asked(serial).status_code for _ in range(40)} == {200}
    with database.reading() as session:
        assert session.query(MissedCheck).count() == 0


MALFORMED = ("1", "../settings", "x" * 5000, "%00" * 26, "U" * 26, "0" * 26 + "/pdf", "é" * 26, "' OR 1=1 --")


def test_a_number_that_cannot_be_one_looks_like_an_unknown_one(
    settings: Settings, database: Database
) -> None:
    asked = _asking(create_app(replace(settings, check_misses=100), database, lambda: None))
    for serial, accept in product(MALFORMED, (JSON, "text/html")):
        unknown, malformed = asked(new_serial(), accept=accept), asked(serial, accept=accept)
        assert malformed.status_code == unknown.status_code == 404, serial
        assert malformed.headers["Content-Type"] == unknown.headers["Content-Type"]
        assert set(malformed.headers.keys()) == set(unknown.headers.keys())
        assert _told(malformed) == _told(unknown), serial


def _told(answer: TestResponse) -> Any:
    if not answer.is_json:
        return answer.get_data()
    return {name: value for name, value in answer.get_json().items() if name != "instance"}


def test_one_ipv6_user_is_one_place_whatever_interface_he_writes(asked: Any) -> None:
    for place in range(30):
        assert asked(new_serial(), f"2001:db8:1:2::{place:x}").status_code == 404
    assert asked(new_serial(), "2001:db8:1:2:ffff::9").status_code == 429
    assert asked(new_serial(), "2001:db8:1:3::1").status_code == 404


def test_behind_a_server_the_address_it_was_asked_from_is_counted(
    settings: Settings, database: Database
) -> None:
    asked = _asking(create_app(replace(settings, proxies=1), database, lambda: None))
    for n in range(30):  # what a client writes into the header himself stands before it and is not believed
        assert (
            asked(new_serial(), "127.0.0.1", X_Forwarded_For=f"198.51.100.{n}, 192.0.2.7").status_code == 404
        )
    assert asked(new_serial(), "127.0.0.1", X_Forwarded_For="192.0.2.7").status_code == 429
    assert asked(new_serial(), "127.0.0.1", X_Forwarded_For="192.0.2.8").status_code == 404


def test_without_a_server_in_front_nobody_is_believed_where_he_asks_from(asked: Any) -> None:
    for n in range(30):
        assert asked(new_serial(), X_Forwarded_For=f"198.51.100.{n}").status_code == 404
    assert asked(new_serial(), X_Forwarded_For="198.51.100.99").status_code == 429


def test_the_figure_is_a_setting(settings: Settings, database: Database) -> None:
    asked = _asking(create_app(replace(settings, check_misses=2), database, lambda: None))
    exhausted(asked, "192.0.2.7", misses=2)
    assert asked(new_serial()).status_code == 429
