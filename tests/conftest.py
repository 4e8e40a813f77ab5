"""The databases every test runs on, and a house with tokens to speak to over HTTP."""

from collections.abc import Iterator
from copy import copy
from dataclasses import replace
from pathlib import Path
from typing import Any

import hypothesis
import pytest
from argon2 import PasswordHasher, profiles
from flask import Flask
from sqlalchemy.orm import Session

from service.accounts import secrets_of_people
from service.app import create_app
from service.core import db
from service.core.db import Database
from service.core.settings import Settings
from service.wiring import open_database
from tests.api import Api, Contract
from tests.engines import ENGINES
from tests.histories import HISTORIES, Cleared, Histories
from tests.house import Templates, settings_for
from tests.journeys.bench import Bench
from tests.make_house import House
from tests.make_trials import Trying
from tests.reference.outside import Counting

KINDS = ("sqlite", "postgresql")
# A busy machine makes slow examples, not wrong ones; the same examples every time make a failure repeatable.
hypothesis.settings.register_profile("suite", deadline=None, derandomize=True, max_examples=40)
hypothesis.settings.load_profile("suite")


def pytest_configure(config: pytest.Config) -> None:
    """Count the values that were held against something outside the project."""
    config.pluginmanager.register(Counting())


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Count coverage on SQLite only: PostgreSQL runs the same lines, and counting doubles their cost."""
    for item in items:
        case = getattr(item, "callspec", None)
        if case is not None and case.params.get("database_kind") == "postgresql":
            item.add_marker("no_cover")


@pytest.fixture(scope="session", autouse=True)
def cheap_passwords() -> Iterator[None]:
    """Hashes that cost nothing: hundreds of tests sign in, and one holds the real cost."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(secrets_of_people, "HASHER", PasswordHasher.from_parameters(profiles.CHEAPEST))
        yield


@pytest.fixture(scope="session", autouse=True)
def lasting_engines() -> Iterator[None]:
    """Engines that outlive their tests."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(db, "_engine", ENGINES)
        yield


@pytest.fixture(scope="session")
def templates(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Templates]:
    """One migrated and loaded database of each kind."""
    with Templates.made(tmp_path_factory.mktemp("templates")) as made:
        yield made


@pytest.fixture(params=KINDS)
def database_kind(request: pytest.FixtureRequest) -> str:
    """SQLite and PostgreSQL are equals: the same test runs on both."""
    return str(request.param)


@pytest.fixture(scope="session")
def histories(
    templates: Templates, served: tuple[Flask, Contract], tmp_path_factory: pytest.TempPathFactory
) -> Histories:
    """What happened before the tests that ask for one of them."""
    return Histories(templates, served, tmp_path_factory.mktemp("histories"))


@pytest.fixture
def prepared(
    request: pytest.FixtureRequest,
    database_kind: str,
    templates: Templates,
    tmp_path: Path,
) -> tuple[Settings, Any]:
    """Settings of a house as it was prepared, and what its history gave where the test asks for one."""
    name = next((name for name in HISTORIES if name in request.fixturenames), None)
    if name is None:
        return settings_for(templates.afresh(database_kind), tmp_path), None
    histories: Histories = request.getfixturevalue("histories")
    return histories.afresh(database_kind, name, tmp_path)


@pytest.fixture
def settings(prepared: tuple[Settings, Any]) -> Settings:
    """Settings of a house whose database is as it was prepared."""
    return prepared[0]


@pytest.fixture
def database(settings: Settings) -> Iterator[Database]:
    """The wired database."""
    found = open_database(settings)
    yield found
    found.dispose()


@pytest.fixture
def session(database: Database) -> Iterator[Session]:
    """A writing session; the test commits when it wants to."""
    with database.writer() as found:
        yield found


@pytest.fixture(scope="session")
def served(tmp_path_factory: pytest.TempPathFactory) -> tuple[Flask, Contract]:
    """One application with its contract; each test gives it the test's own database."""
    home = tmp_path_factory.mktemp("served")
    app = create_app(settings_for(f"sqlite:///{home / 'none.sqlite3'}", home), wake=lambda: None)
    return app, Contract(app)


@pytest.fixture
def api(
    served: tuple[Flask, Contract],
    templates: Templates,
    database_kind: str,
    settings: Settings,
    database: Database,
) -> Api:
    """A client for each role: `api.owner.get("/lots")`."""
    app, contract = served
    app.extensions["dipledger.settings"] = settings
    app.extensions["dipledger.database"] = database
    return Api(app, contract, templates.tokens[database_kind])


@pytest.fixture
def busy_house(api: Api, prepared: tuple[Settings, Any]) -> House:
    """A house in which something of everything has happened."""
    return _with_own_bench(prepared[1])


@pytest.fixture
def full_house(api: Api, prepared: tuple[Settings, Any]) -> House:
    """The same with a trial that was read, an order, photos, and what is no ordinary lot."""
    return _with_own_bench(prepared[1])


def _with_own_bench(found: House) -> House:
    return replace(found, bench=copy(found.bench))


@pytest.fixture
def read_trial(api: Api, prepared: tuple[Settings, Any]) -> Trying:
    """Alum against a control, one tub each, read on day 7."""
    found: Trying = prepared[1]
    return copy(found)


@pytest.fixture
def bench(request: pytest.FixtureRequest, api: Api, prepared: tuple[Settings, Any]) -> Bench:
    """A bench whose work began fifty days ago: that of the `cleared` lot where the test asks for one."""
    return copy(prepared[1].bench) if "cleared" in request.fixturenames else Bench(api)


@pytest.fixture
def cleared(api: Api, prepared: tuple[Settings, Any]) -> str:
    """Twenty pots with a certificate, that stood in Q1 alone."""
    found: Cleared = prepared[1]
    return found.lot
