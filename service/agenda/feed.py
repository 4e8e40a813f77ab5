"""Due work as a calendar (RFC 5545; name and refresh interval: RFC 7986)."""

import hashlib
import json
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from icalendar import Calendar, Event

PRODUCT = "-//Dipledger//due work//EN"
REFRESH = timedelta(minutes=15)
AHEAD = timedelta(days=60)
Shown = Mapping[str, Any]


@dataclass(frozen=True)
class House:
    """What a calendar says of the house: its name, its time zone, its address."""

    name: str
    zone: str
    url: str


def calendar(works: Sequence[Shown], house: House, now: datetime) -> tuple[bytes, str]:
    """The calendar of due work as shown by `queries.due_work`, and a tag of what it says.

    Moments are written in UTC (RFC 5545, 3.3.5, form 2), so no reader needs a table of time zones. What is
    due at the start of a local day is of that day (VALUE=DATE); what is overdue stands on today, because a
    calendar that lets yesterday's work sink out of sight is worse than none. The tag leaves DTSTAMP out: it
    tells when this was written, and the same work is the same calendar.
    """
    said = [_said(work, house, now) for work in works]
    found = Calendar()
    found.add("prodid", PRODUCT)
    found.add("version", "2.0")
    found.add("calscale", "GREGORIAN")
    found.add("name", house.name)
    found.add("x-wr-calname", house.name)  # what readers older than RFC 7986 take
    found.add("refresh-interval", REFRESH, parameters={"VALUE": "DURATION"})
    for one in said:
        event = Event()
        event.add("dtstamp", now.replace(microsecond=0))
        for name, value in one.items():
            event.add(name, value)
        found.add_component(event)
    told = json.dumps([house.name, *said], default=str, sort_keys=True)
    return found.to_ical(), hashlib.sha256(told.encode()).hexdigest()[:32]


def _said(work: Shown, house: House, now: datetime) -> dict[str, Any]:
    """One piece of work as the properties of an event."""
    start, end = _when(work, house.zone, now)
    place = f"Tub {work['tub']['code']}" if work["tub"] else None
    said = {
        "uid": work["id"],  # a UUID: RFC 7986, 5.3
        "dtstart": start,
        "dtend": end,
        "summary": f"Overdue: {work['title']}" if work["overdue"] else work["title"],
        "description": _described(work, house.zone),
        "location": place,
        "categories": [work["kind"].replace("_", " ")],
        "class": "PRIVATE",
        "transp": "TRANSPARENT",  # work that waits does not make its person busy
        "url": f"{house.url}/console/round",
    }
    return {name: value for name, value in said.items() if value is not None}


def _when(work: Shown, zone: str, now: datetime) -> tuple[date, date]:
    """From when to when: moments in UTC, or whole days (the end is not part of it, RFC 5545, 3.6.1)."""
    local = work["due_at"].astimezone(ZoneInfo(zone))
    if work["overdue"] or local.time() == time():
        day = now.astimezone(ZoneInfo(zone)).date() if work["overdue"] else local.date()
        return day, day + timedelta(days=1)
    start = work["due_at"].astimezone(UTC).replace(microsecond=0)
    return start, start + timedelta(minutes=work["minutes"])


def _described(work: Shown, zone: str) -> str:
    lots = ", ".join(lot["code"] for lot in work["lots"])
    local = work["due_at"].astimezone(ZoneInfo(zone))
    parts = [work["detail"], f"Lots: {lots}" if lots else "", f"Due {local:%Y-%m-%d %H:%M} ({zone})"]
    return "\n".join(part for part in parts if part)
