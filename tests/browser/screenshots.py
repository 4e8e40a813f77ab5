"""`python -m tests.browser.screenshots [folder]`: every page, in both themes and both sizes, as PNG files."""

import os
import shutil
import sys
import tempfile
from pathlib import Path

from flask import Flask

from service.app import create_app
from service.core.clock import utc_now
from service.wiring import open_database
from tests.api import Api, Contract
from tests.browser.conftest import Served
from tests.browser.hands import DESK, PHONE, opened
from tests.browser.pages import walk
from tests.house import prepare, settings_for, tokens
from tests.make_house import a_full_house
from tests.make_people import a_person


def main(folder: Path) -> None:
    """Make the house and take the pictures."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    with tempfile.TemporaryDirectory() as scratch:
        served = Served(_house(Path(scratch)))
        served.start()
        for size in (DESK, PHONE):
            with opened(served.address, size) as hands:
                hands.open("/console/sign-in")
                (folder / f"sign-in-{size.name}-light.png").write_bytes(hands.picture())
                hands.sign_in()
                for kind in walk(hands):
                    name = kind.replace("*", "one")
                    for scheme in ("light", "dark"):
                        hands.theme(scheme)
                        (folder / f"{name}-{size.name}-{scheme}.png").write_bytes(hands.picture())
        served.cut()
    print(f"{len(os.listdir(folder))} pictures in {folder}")  # noqa: T201  # a command of make


def _house(home: Path) -> Flask:
    url = f"sqlite:///{home / 'house.sqlite3'}"
    prepare(url, home)
    settings = settings_for(url, home)
    database = open_database(settings)
    app = create_app(settings, database, wake=lambda: None)
    a_full_house(Api(app, Contract(app), tokens(database, utc_now())))
    a_person(database)
    return app


if __name__ == "__main__":
    main(Path(sys.argv[1]) if len(sys.argv) > 1 else Path("build/screenshots"))
