"""What happened before a test, lived through once for many of them.

A busy house, or a cleared lot, takes dozens of acts to come by. A test that asks for one of the fixtures
named in HISTORIES gets a copy of a database, and of the files beside it, in which those acts were done
within this hour; so it starts from exactly what it would have made.
"""

import shutil
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from flask import Flask

from service.core.settings import Settings
from service.wiring import open_database
from tests.api import Api, Contract
from tests.house import Templates, settings_for
from tests.journeys.bench import Bench, days_ago
from tests.make_house import a_full_house, a_house
from tests.make_trials import a_read_trial


@dataclass(frozen=True)
class Cleared:
    """A bench at which one lot was cleared."""

    bench: Bench
    lot: str


def a_cleared_lot(api: Api) -> Cleared:
    """Twenty pots that stood in Q1 alone, with a certificate, and nothing else done."""
    bench = Bench(api)
    return Cleared(bench, bench.cleared_lot())


HISTORIES: Mapping[str, Callable[[Api], Any]] = {
    "busy_house": a_house,
    "full_house": a_full_house,
    "cleared": a_cleared_lot,
    "read_trial": lambda api: a_read_trial(Bench(api)),
}


class Histories:
    """Databases of each kind with a history, made when first asked for and anew every hour."""

    def __init__(self, templates: Templates, served: tuple[Flask, Contract], folder: Path) -> None:
        self._templates, self._served, self._folder = templates, served, folder
        self._known: dict[tuple[str, str], tuple[Any, Any]] = {}

    def afresh(self, kind: str, name: str, home: Path) -> tuple[Settings, Any]:
        """Settings of a house at `home` in which the history of that name happened, and what it gave."""
        hour = days_ago(0)
        made, value = self._known.get((kind, name), (None, None))
        if made != hour:
            value = self._happen(kind, name)
            self._known[kind, name] = hour, value
        shutil.copytree(self._files(kind, name), home, dirs_exist_ok=True)
        return settings_for(self._templates.afresh(kind, name), home), value

    def _happen(self, kind: str, name: str) -> Any:
        files = self._files(kind, name)
        shutil.rmtree(files, ignore_errors=True)
        files.mkdir(parents=True)
        settings = settings_for(self._templates.afresh(kind), files)
        database = open_database(settings)
        app, contract = self._served
        app.extensions["dipledger.settings"] = settings
        app.extensions["dipledger.database"] = database
        value = HISTORIES[name](Api(app, contract, self._templates.tokens[kind]))
        database.dispose()
        self._templates.keep(kind, name)
        return value

    def _files(self, kind: str, name: str) -> Path:
        return self._folder / kind / name
