"""The one list of reactions and jobs; web, worker and command line are all wired from here.

A reaction is what an upper room does when a lower one writes a certain journal entry, in the
same transaction and in the order given here. A job is owed work that the worker does.
"""

from collections.abc import Mapping

from service.core.db import Database
from service.core.jobs import Job
from service.core.settings import Settings
from service.journal.actions import REACTIONS as REACTIONS_KEY
from service.journal.actions import Reaction, attach

REACTIONS: Mapping[str, tuple[Reaction, ...]] = {}

JOBS: Mapping[str, Job] = {}

NIGHTLY: tuple[str, ...] = ()


def open_database(settings: Settings) -> Database:
    """The database of these settings, with journal and reactions attached to every session."""
    database = Database(settings.database_url, info={REACTIONS_KEY: REACTIONS})
    attach(database.writer)
    return database
