"""Entries of the journal as events and documents of EPCIS 2.0 (GS1, 2022)."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime
from uuid import NAMESPACE_URL, uuid5
from zoneinfo import ZoneInfo

from service.exchange.rules import stamp
from service.exchange.rules_epcis_words import WORDS, Body, Known
from service.exchange.rules_gs1 import place_uri
from service.exchange.rules_told import Entry

CONTEXT = "https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld"


@dataclass(frozen=True)
class Mistake:
    """An entry that takes another back: what both are about, what kinds those are, and CBV's reason."""

    about: str
    made: frozenset[str]
    reason: str


MISTAKES = {
    "dispatch.reversed": Mistake("dispatch", frozenset({"dispatch.made"}), "did_not_occur"),
    "inspection.voided": Mistake(
        "inspection", frozenset({"inspection.recorded", "inspection.found_live"}), "incorrect_data"
    ),
}
KINDS = (*WORDS, *MISTAKES)


def document(events: Iterable[Body], at: datetime) -> Body:
    """An EPCIS document of these events."""
    return {
        "@context": [CONTEXT],
        "type": "EPCISDocument",
        "schemaVersion": "2.0",
        "creationDate": stamp(at),
        "epcisBody": {"eventList": list(events)},
    }


def epcis_events(entry: Entry, known: Known) -> list[Body]:
    """The events that an entry is, in a fixed order; none when it is none for EPCIS."""
    mistake = MISTAKES.get(entry.kind)
    if mistake is not None:
        return _retracted(entry, known, mistake)
    place = {"id": place_uri(known.site.gln, known.site.source)}
    return [
        {
            "type": "ObjectEvent",
            "eventID": f"urn:uuid:{uuid5(NAMESPACE_URL, f'{entry.hash}/epcis' + (f'/{n}' if n else ''))}",
            "eventTime": stamp(entry.at),
            "eventTimeZoneOffset": offset(entry.at, known.site.zone),
            "recordTime": stamp(entry.recorded_at),
            "readPoint": place,
            **({} if say.get("disposition") == "in_transit" else {"bizLocation": place}),
            **say,
        }
        for n, say in enumerate(WORDS[entry.kind](entry, known))
    ]


def offset(at: datetime, zone: str) -> str:
    """The offset of a zone at a moment, like +02:00."""
    text = at.astimezone(ZoneInfo(zone)).strftime("%z")
    return f"{text[:3]}:{text[3:5]}"


def _retracted(entry: Entry, known: Known, mistake: Mistake) -> list[Body]:
    # EPCIS 2.0, error declarations: the same event with the same eventID, and when it was found wrong.
    made = known.made.get(entry.ids(mistake.about)[0])
    declared = {"declarationTime": stamp(entry.recorded_at), "reason": mistake.reason}
    events = [] if made is None else epcis_events(made, known)
    return [{**event, "errorDeclaration": declared} for event in events]
