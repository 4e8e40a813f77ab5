"""Addresses of the exchange: events to pull."""

from collections.abc import Mapping
from typing import Any

from flask import Response

from service.accounts.rules import READERS, Role
from service.core.http import allow, caller, router, session, settings
from service.core.pages import Page, listed
from service.exchange import queries
from service.exchange.queries import Place
from service.exchange.rules import envelope
from service.exchange.rules_told import FOR_SHOPS, EventType
from service.exchange.schemas import PLACE, EventsOut, EventsQuery

blueprint = router("exchange", "How other systems plug in.")


@blueprint.route("/events")
@allow(READERS | {Role.SHOP})
@blueprint.arguments(EventsQuery, location="query")
@blueprint.response(200, EventsOut)
def list_events(asked: Mapping[str, Any]) -> Response:
    """List events in the order of the journal, after a place; a shop sees those of the selling side."""
    types = FOR_SHOPS if caller().role == Role.SHOP else frozenset(EventType)
    if asked["type"]:
        types &= {asked["type"]}
    found = queries.events_after(session(), _place(asked["after"]), types, asked["limit"])
    source, place = settings().public_url, str(found.place)
    page = Page(found.events, place if found.more else None)
    return listed(page, lambda event: envelope(event, source), by="after", after=place)


def _place(text: str) -> Place:
    seq, n = PLACE.fullmatch(text).groups()  # type: ignore[union-attr]  # the schema has matched it
    return Place(int(seq), None if n is None else int(n))
