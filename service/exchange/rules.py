"""Which events an entry of the journal is for other systems, and their CloudEvents 1.0 envelope.

Pure: the same entry is the same events with the same ids, whenever it is asked.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import NAMESPACE_URL, uuid5

from service.exchange.rules_told import MAKERS, Entry, EventType, Lots


@dataclass(frozen=True)
class Event:
    """One event; `n` is its place among those of its entry, which are in a fixed order."""

    seq: int
    n: int
    id: str
    type: EventType
    subject: str
    at: datetime
    recorded_at: datetime
    data: Mapping[str, Any]


def events_of(entry: Entry, lots: Lots) -> list[Event]:
    """The events of one entry, in a fixed order; `lots` has every lot that it is about."""
    told = [
        (type_, subject, data)
        for type_, make in MAKERS.get(entry.kind, ())
        for subject, data in make(entry, lots)
    ]
    return [
        Event(
            entry.seq,
            n,
            str(uuid5(NAMESPACE_URL, f"{entry.hash}/{type_}/{subject}")),
            type_,
            subject,
            entry.at,
            entry.recorded_at,
            data,
        )
        for n, (type_, subject, data) in enumerate(told, 1)
    ]


def kinds_for(types: frozenset[EventType]) -> list[str]:
    """The kinds of entries that can be events of these types."""
    return sorted(kind for kind, makers in MAKERS.items() if types & {type_ for type_, _ in makers})


def envelope(event: Event, source: str) -> dict[str, Any]:
    """The event as CloudEvents 1.0, structured JSON; `source` is the address of this house.

    `sequence` and `recordedtime` are extensions documented with CloudEvents: the first orders all events
    of the house as text, the second says when it was written, `time` when it happened.
    """
    return {
        "specversion": "1.0",
        "id": event.id,
        "source": source,
        "type": event.type.value,
        "subject": event.subject,
        "time": stamp(event.at),
        "recordedtime": stamp(event.recorded_at),
        "sequence": f"{event.seq:012d}.{event.n:04d}",
        "datacontenttype": "application/json",
        "data": dict(event.data),
    }


def stamp(moment: datetime) -> str:
    """A moment in UTC as RFC 3339 with Z."""
    return moment.isoformat().replace("+00:00", "Z")
