"""A service that really runs, on the database of the test."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from service.core.settings import Settings
from tests.house import SECRET
from tests.processes.house import House, answers, free_port, until


@pytest.fixture
def running(settings: Settings, tmp_path: Path) -> Iterator[str]:
    """The address of a web server on the test's database."""
    house = House(
        tmp_path / "home",
        DIPLEDGER_DATABASE_URL=settings.database_url,
        DIPLEDGER_SECRET_KEY=SECRET,
        DIPLEDGER_SIGNING_KEY_FILE=str(settings.signing_key_file),
        DIPLEDGER_UNSAFE_DATABASE="yes",  # the test server trades safety for speed
    )
    (tmp_path / "home").mkdir()
    port = free_port()
    with house.started("web", "--port", str(port)) as web:
        until(lambda: answers(port) or web.poll() is not None, "the web answers")
        assert web.poll() is None
        yield f"http://127.0.0.1:{port}"
