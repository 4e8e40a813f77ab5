"""The one list of reactions and jobs; web, worker and command line are all wired from here.

A reaction is what an upper room does when a lower one writes a certain journal entry, in the
same transaction and in the order given here. A job is owed work that the worker does.
"""

from collections.abc import Callable, Mapping
from datetime import datetime

from service.agenda import queries as agenda
from service.clearance import reactions as clearance
from service.clearance.signing import SIGNER, Signer
from service.core import jobs, probes
from service.core.db import LOCK_WAIT_S, Database
from service.core.jobs import Job
from service.core.measures import Measure
from service.core.settings import Settings
from service.exchange import deliveries, overdue, postman
from service.exchange.actions import OFFICE, Office
from service.exchange.sending import Line
from service.journal.actions import REACTIONS as REACTIONS_KEY
from service.journal.actions import Reaction, attach
from service.lots import reactions as lots
from service.ordering import actions as ordering
from service.photos import actions as photos
from service.photos.folder import PHOTOS, Folder
from service.quarantine import actions as quarantine
from service.recalls import retracing, suppliers
from service.reports import actions as reports
from service.reports import heads, proofs
from service.sales import reactions as sales
from service.sales import reservations
from service.stores import expiry
from service.trials import reactions as trials

# What a fact changes: certificates first, then the clock, which starts anew for what was sent back.
FOLLOWED = (
    "lot.received",
    "lot.moved",
    "lot.repacked",
    "lot.opened",
    "treatment.step_started",
    "treatment.step_finished",
    "treatment.finished",
    "treatment.abandoned",
    "tub.temperatures_recorded",
    "tub.temperature_voided",
    "tub.measured",
    "tub.water_changed",
)
STOCK = (
    "stock.batch_received",
    "stock.drawn",
    "stock.counted",
    "stock.disposed",
    "stock.reversed",
)
NEED = ("treatment.finished", "treatment.abandoned")
_REACTIONS: Mapping[str, tuple[Reaction, ...]] = {
    **dict.fromkeys(FOLLOWED, (quarantine.follow,)),
    "inspection.recorded": (clearance.on_looked, quarantine.follow),
    "inspection.voided": (clearance.on_voided, clearance.on_looked, quarantine.follow),
    **dict.fromkeys(NEED, (quarantine.follow, ordering.on_stock_or_need)),
    "treatment.planned": (trials.on_treatment_planned, quarantine.follow, ordering.on_stock_or_need),
    **dict.fromkeys(STOCK, (reports.on_stock, ordering.on_stock_or_need)),
    "stock.batch_changed": (expiry.on_batch_changed, ordering.on_stock_or_need),
    "inspection.found_live": (clearance.on_find, quarantine.follow),
    "lot.water_shared": (trials.on_water_shared, clearance.on_water_shared, quarantine.follow),
    "lot.hold_lifted": (trials.on_hold_lifted,),
    "lot.split": (clearance.on_split, quarantine.follow),
    "lot.state_changed": (trials.on_state_changed, clearance.on_state_changed, quarantine.on_state_changed),
    "certificate.revoked": (reservations.free_lots, sales.on_revoked),
    "lot.rejected": (reservations.free_lots,),
    **dict.fromkeys(("pest.adopted", "pest.development_learnt"), (quarantine.on_figures_changed,)),
    "house.changed": (reports.on_house_changed,),
    "tool.used": (lots.on_tool_used,),
    "shipment.expected": (suppliers.warn,),
    "shipment.received": (suppliers.warn,),
}
REACTIONS: Mapping[str, tuple[Reaction, ...]] = {
    **_REACTIONS,
    **{kind: (*_REACTIONS.get(kind, ()), retracing.on_traced) for kind in retracing.TRACED},
}

JOBS: Mapping[str, Job] = {
    quarantine.JOB: quarantine.project_tub,
    quarantine.SEVERAL: quarantine.project_tubs,
    "project_all": quarantine.project_all,
    "roll_up": reports.roll_up,
    "roll_up_recent": reports.roll_up_recent,
    expiry.CHECK: expiry.check_expiry,
    ordering.CHECK: ordering.check_reorder,
    reservations.EXPIRE: reservations.expire,
    retracing.JOB: retracing.RETRACE,
    "prove": proofs.PROVE_NIGHTLY,
    heads.JOB: heads.keep_head,
    overdue.JOB: overdue.NOTE_OVERDUE,
    "forget_delivered": deliveries.forget_delivered,
    photos.SWEEP: photos.sweep_photos,
}

# The proof comes first: what the others compute anew at night would hide a difference from it.
NIGHTLY = (
    "prove",
    heads.JOB,
    "project_all",
    "roll_up_recent",
    retracing.JOB,
    expiry.CHECK,
    ordering.CHECK,
    overdue.JOB,
    "forget_delivered",
    photos.SWEEP,
)

# What the worker does at each waking beside owed jobs; nothing of it is in a transaction while it is away.
Round = Callable[[Database, Callable[[], datetime]], int]
ROUNDS: tuple[Round, ...] = (postman.go_round,)


# What /metrics tells beside how long answers take; docs/operations.md says when to be woken by it.
MEASURES = (
    Measure("dipledger_overdue_work", "Pieces of due work that are late.", "kind", agenda.overdue),
    Measure("dipledger_owed_job_age_seconds", "How long the oldest due job waits.", "kind", jobs.lateness),
    Measure("dipledger_parked_jobs", "Jobs that were given up.", "kind", jobs.parked),
    Measure(
        "dipledger_undelivered_event_age_seconds",
        "How long the oldest event waits that a webhook did not take.",
        "webhook",
        deliveries.undelivered,
    ),
    Measure("dipledger_parked_events", "Events given up after three days.", "webhook", deliveries.given_up),
    Measure(
        "dipledger_heartbeat_age_seconds",
        "How long ago each timekeeper last spoke, and a proof of the night held or failed.",
        "name",
        probes.heartbeat_ages,
    ),
)


def open_database(settings: Settings, lock_wait_s: float = LOCK_WAIT_S) -> Database:
    """The database of these settings, with journal and reactions attached to every session."""
    signer = Signer(settings.signing_key_file, settings.public_url)
    office = Office(settings.secret, settings.public_url, Line(allowed=settings.webhook_allow))
    info = {
        REACTIONS_KEY: REACTIONS,
        SIGNER: signer,
        OFFICE: office,
        PHOTOS: Folder(settings.photos),
        heads.HEADS: settings.heads,
    }
    database = Database(settings.database_url, info, lock_wait_s)
    attach(database.writer)
    return database
