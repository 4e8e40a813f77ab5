"""A house that a real browser can reach, and the browser."""

import threading
from collections.abc import Iterator
from dataclasses import dataclass, replace

import pytest
from flask import Flask
from werkzeug.serving import BaseWSGIServer, make_server

from service.core.db import Database
from tests.api import Api
from tests.make_people import a_person


@pytest.fixture
def database_kind() -> str:
    """The pages are held on both databases by tests/console; a browser sees no difference."""
    return "sqlite"


@dataclass
class Served:
    """The house's address; the signal can be cut and comes back at the same address."""

    app: Flask
    port: int = 0
    _server: BaseWSGIServer | None = None

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    def start(self) -> None:
        self._server = make_server("127.0.0.1", self.port, self.app, threaded=True)
        self.port = self._server.server_port
        settings = self.app.extensions["dipledger.settings"]
        self.app.extensions["dipledger.settings"] = replace(settings, public_url=self.address)
        threading.Thread(
            target=self._server.serve_forever, kwargs={"poll_interval": 0.05}, daemon=True
        ).start()

    def cut(self) -> None:
        assert self._server is not None
        self._server.shutdown()
        self._server.server_close()
        self._server = None


@pytest.fixture
def house(api: Api, database: Database) -> Iterator[Served]:
    """A started house with an owner who can sign in."""
    a_person(database)
    found = Served(api.app)
    found.start()
    yield found
    found.cut()
