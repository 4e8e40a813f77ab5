"""Addresses of the exchange: events to pull, as CloudEvents and as EPCIS."""

from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from flask import Response, g, request

from service.accounts.rules import READERS, Role
from service.core.http import allow, answer, caller, router, session, settings, weighs
from service.core.pace import WEIGHT
from service.core.pages import Page, listed, page
from service.exchange import epcis, queries
from service.exchange.queries import Place
from service.exchange.rules import envelope
from service.exchange.rules_epcis import document
from service.exchange.rules_told import FOR_SHOPS, EventType
from service.exchange.schemas import PLACE, EpcisDocument, EpcisQuery, EventsOut, EventsQuery
from service.journal.models import JournalEntry

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
    rows = Page(found.events, place if found.more else None)
    return listed(rows, lambda event: envelope(event, source), by="after", after=place)


@blueprint.route("/epcis/events")
@weighs(WEIGHT)
@allow(READERS)
@blueprint.arguments(EpcisQuery, location="query")
@blueprint.response(200, EpcisDocument)
def list_epcis_events(asked: Mapping[str, Any]) -> Response:
    """What happened to lots as a GS1 EPCIS 2.0 document; the next page is linked."""
    found = page(session(), epcis.entries_for_epcis(asked["lot"]), [JournalEntry.seq], asked)
    events = epcis.events_of_page(session(), [row[0] for row in found.rows], settings().public_url)
    response = answer(document(events, g.now))
    if found.next:
        query = {**request.args.to_dict(), "cursor": found.next}
        response.headers["Link"] = f'<{request.path}?{urlencode(query)}>; rel="next"'
    return response


def _place(text: str) -> Place:
    seq, n = PLACE.fullmatch(text).groups()  # type: ignore[union-attr]  # the schema has matched it
    return Place(int(seq), None if n is None else int(n))
