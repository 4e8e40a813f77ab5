"""A browser at the door of a house."""

import pytest

from service.core.db import Database
from tests.api import Api
from tests.make_house import House
from tests.make_people import Browser, a_person


@pytest.fixture
def browser(api: Api) -> Browser:
    """A browser in which nobody is signed in."""
    return Browser(api.app)


@pytest.fixture
def owner(browser: Browser, database: Database) -> Browser:
    """A browser in which the owner is signed in."""
    a_person(database)
    assert browser.sign_in().status_code == 303
    return browser


@pytest.fixture
def house(busy_house: House) -> House:
    """A house in which something of everything has happened."""
    return busy_house
