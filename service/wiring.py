"""The one list of reactions and jobs; web, worker and command line are all wired from here.

A reaction is what an upper room does when a lower one writes a certain journal entry, in the
same transaction and in the order given here. A job is owed work that the worker does.
"""

from collections.abc import Mapping

from service.clearance.signing import SIGNER, Signer
from service.core.db import Database
from service.core.jobs import Job
from service.core.settings import Settings
from service.journal.actions import REACTIONS as REACTIONS_KEY
from service.journal.actions import Reaction, attach
from service.lots import reactions as lots

REACTIONS: Mapping[str, tuple[Reaction, ...]] = {"tool.used": (lots.on_tool_used,)}

JOBS: Mapping[str, Job] = {}

NIGHTLY: tuple[str, ...] = ()


def open_database(settings: Settings) -> Database:
    """The database of these settings, with journal and reactions attached to every session."""
    signer = Signer(settings.signing_key_file, settings.public_url)
    database = Database(settings.database_url, info={REACTIONS_KEY: REACTIONS, SIGNER: signer})
    attach(database.writer)
    return database
