"""The web application: settings, database, hooks, and the routes of every room."""

from collections.abc import Callable

from flask import Flask, g
from sqlalchemy import Connection
from werkzeug.middleware.proxy_fix import ProxyFix

from service import wiring
from service.accounts import queries as accounts_queries
from service.accounts import routes as accounts
from service.accounts import routes_people as people
from service.agenda import routes as agenda
from service.agenda import routes_feed as calendars
from service.catalogue import routes as catalogue
from service.catalogue import routes_files as plant_files
from service.clearance import public
from service.clearance import routes as clearance
from service.clearance import routes_animals as animal_tests
from service.clearance import routes_labels as labels
from service.console import routes as console
from service.core import again, openapi, probes, requests
from service.core.db import Database
from service.core.http import Caller
from service.core.logs import configure
from service.core.migrations import head
from service.core.pace import Pace
from service.core.problems import ProblemApi
from service.core.queue import Waker, broker_verdict
from service.core.settings import Settings, read_settings
from service.exchange import routes as exchange
from service.exchange import routes_webhooks as webhooks
from service.inspections import routes as inspections
from service.intake import routes as intake
from service.intake import routes_files as shipment_files
from service.journal import routes as journal
from service.lots import routes as lots
from service.ordering import routes as ordering
from service.photos import routes as photos
from service.protocols import routes as protocols
from service.recalls import routes as recalls
from service.reports import routes as reports
from service.reports import routes_losses as losses
from service.reports import routes_outcomes as outcomes
from service.reports import routes_tubs as tub_forecast
from service.sales import routes as sales
from service.sales import routes_items as sales_items
from service.sales import routes_reservations as reservations
from service.sales import routes_returns as returns
from service.stores import routes as stores
from service.stores import routes_receipts as receipts
from service.stores import routes_shelves as shelves
from service.treatments import routes as treatments
from service.treatments import routes_batches as batch_uses
from service.treatments import routes_stems as trial_stems
from service.trials import routes as trials
from service.tubs import routes as tubs
from service.tubs import routes_temperatures as temperatures

ROOMS = (
    accounts,
    agenda,
    animal_tests,
    batch_uses,
    calendars,
    catalogue,
    clearance,
    exchange,
    inspections,
    intake,
    journal,
    labels,
    losses,
    lots,
    ordering,
    outcomes,
    people,
    photos,
    plant_files,
    protocols,
    public,
    recalls,
    receipts,
    reports,
    reservations,
    returns,
    sales,
    sales_items,
    shelves,
    shipment_files,
    stores,
    temperatures,
    treatments,
    trial_stems,
    trials,
    tub_forecast,
    tubs,
    webhooks,
)


def create_app(
    settings: Settings, database: Database | None = None, wake: Callable[[], None] | None = None
) -> Flask:
    """Build the application; `database` and `wake` are opened from the settings unless given."""
    app = again.Application("service")
    app.config.update(openapi.CONFIG)
    if settings.proxies:  # without one in front anybody could write any address into this header
        behind = ProxyFix(app.wsgi_app, x_for=settings.proxies, x_proto=0)
        app.wsgi_app = behind  # type: ignore[method-assign]  # Flask's own way to wrap its application
    app.extensions["dipledger.settings"] = settings
    app.extensions["dipledger.database"] = database or wiring.open_database(settings)
    app.extensions["dipledger.gauges"] = probes.Gauges()
    app.extensions["dipledger.measures"] = wiring.MEASURES
    app.extensions["dipledger.pace"] = Pace()
    app.extensions["dipledger.head"] = head()
    app.extensions["dipledger.broker"] = lambda: broker_verdict(settings)
    app.extensions["dipledger.wake"] = wake or Waker(settings).wake
    requests.attach(app, _authenticate)
    api = ProblemApi(app, spec_kwargs=openapi.SPEC)
    for room in ROOMS:
        api.register_blueprint(room.blueprint)
    api.register_blueprint(calendars.public)
    app.register_blueprint(probes.blueprint)
    openapi.attach(app, api)
    console.attach(app)
    return app


def from_environment() -> Flask:
    """The application as the HTTP server starts it."""
    settings = read_settings()
    configure(settings.log_level)
    return create_app(settings)


def _authenticate(connection: Connection, secret: str) -> Caller | None:
    found = accounts_queries.identity(connection, secret, g.now)
    return None if found is None else Caller(*found)
