"""The calendar as RFC 5545 says it, read back by a reader of its grammar that is not the writer's library."""

import re
from datetime import UTC, datetime
from typing import Any

from service.agenda.feed import House, calendar

NOW = datetime(1998, 1, 19, 7, 0, 0, 123456, tzinfo=UTC)
HOUSE = House("Due work, Elm Street", "America/New_York", "https://nursery.example")
WORK_ID = "5fb0a0d2-1f7e-5a8e-9f0e-3c3a6f1b2c4d"


def work(**more: Any) -> dict[str, Any]:
    shown = {
        "id": WORK_ID,
        "kind": "water_change",
        "due_at": datetime(1998, 1, 19, 14, 0, tzinfo=UTC),
        "overdue": False,
        "title": "Change the water",
        "detail": "Change 50% of the water and pour the dose again.",
        "tub": {"id": "t", "code": "A1"},
        "lots": [{"id": "l", "code": "L-1"}, {"id": "m", "code": "L-2"}],
        "minutes": 6,
    }
    return {**shown, **more}


def content_lines(ics: bytes) -> list[str]:
    """Unfolded content lines (3.1): CRLF and one blank or tab taken out; none has more than 75 octets."""
    assert ics.endswith(b"\r\n")
    assert b"\n" not in ics.replace(b"\r\n", b"")
    assert max(len(line) for line in ics.split(b"\r\n")) <= 75
    return re.sub(rb"\r\n[ \t]", b"", ics).decode().split("\r\n")[:-1]


def unescaped(text: str) -> str:
    """A TEXT value (3.3.11): backslash, semicolon, comma and line break were escaped."""
    return re.sub(r"\\([\\;,nN])", lambda match: "\n" if match[1] in "nN" else match[1], text)


def event(*works: dict[str, Any], now: datetime = NOW, house: House = HOUSE) -> dict[str, str]:
    """The properties of the last event, by name with parameters."""
    lines = content_lines(calendar(works, house, now)[0])
    begin = len(lines) - lines[::-1].index("BEGIN:VEVENT")
    return dict(line.split(":", 1) for line in lines[begin : lines.index("END:VEVENT", begin)])


def test_a_calendar_says_what_every_reader_needs() -> None:
    lines = content_lines(calendar([], HOUSE, NOW)[0])
    assert (lines[0], lines[-1]) == ("BEGIN:VCALENDAR", "END:VCALENDAR")
    assert {"VERSION:2.0", "CALSCALE:GREGORIAN"} <= set(lines)  # 3.7.4 and 3.7.1
    assert sum(line.startswith("PRODID:") for line in lines) == 1  # 3.7.3: required, once
    assert "REFRESH-INTERVAL;VALUE=DURATION:PT15M" in lines  # RFC 7986, 5.7
    assert [unescaped(line[5:]) for line in lines if line.startswith("NAME:")] == [HOUSE.name]


def test_a_moment_is_in_utc_as_in_the_example_of_the_standard() -> None:
    # RFC 5545, 3.3.5, form 2: "19980119T070000Z" is January 19, 1998, at 0700 UTC.
    found = event(work(due_at=datetime.fromisoformat("1998-01-19T02:00:00-05:00")))
    assert (found["DTSTART"], found["DTEND"]) == ("19980119T070000Z", "19980119T070600Z")
    assert found["DTSTAMP"] == "19980119T070000Z"  # 3.8.7.2: in UTC


def test_what_is_due_in_the_hour_that_comes_twice_is_told_apart() -> None:
    # New York, 31 October 1999: 01:30 came twice (tz database); in UTC there is no doubt which is meant.
    first, second = (datetime(1999, 10, 31, hour, 30, tzinfo=UTC) for hour in (5, 6))
    assert event(work(due_at=first))["DTSTART"] == "19991031T053000Z"
    assert event(work(due_at=second))["DTSTART"] == "19991031T063000Z"
    assert "1999-10-31 01:30 (America/New_York)" in unescaped(event(work(due_at=second))["DESCRIPTION"])


def test_what_is_due_at_the_start_of_a_local_day_is_of_that_day() -> None:
    # 3.3.4: "19970714" is July 14, 1997; 3.6.1: the end is not part of it. 04:00 UTC is midnight there.
    found = event(work(due_at=datetime(1997, 7, 14, 4, tzinfo=UTC)))
    assert (found["DTSTART;VALUE=DATE"], found["DTEND;VALUE=DATE"]) == ("19970714", "19970715")


def test_overdue_work_stands_on_the_local_today_under_the_same_uid() -> None:
    before = event(work())
    late = datetime(1998, 1, 22, 2, tzinfo=UTC)  # still the 21st in New York
    after = event(work(overdue=True), now=late)
    assert after["DTSTART;VALUE=DATE"] == "19980121"
    assert after["SUMMARY"] == "Overdue: Change the water"
    assert "Due 1998-01-19 09:00" in after["DESCRIPTION"]
    assert before["UID"] == after["UID"] == WORK_ID


def test_text_is_escaped_as_in_the_example_of_the_standard() -> None:
    # RFC 5545, 3.3.11: three lines of text as one value, with "\n" for the line breaks.
    text = "Project XYZ Final Review\nConference Room - 3B\nCome Prepared."
    lines = content_lines(calendar([work(detail=text)], HOUSE, NOW)[0])
    wanted = r"DESCRIPTION:Project XYZ Final Review\nConference Room - 3B\nCome Prepared."
    assert [line for line in lines if line.startswith(wanted)]
    odd = 'a;b,c\\n \\ "quoted" : 50 %'
    assert unescaped(event(work(title=odd))["SUMMARY"]) == odd


def test_no_text_can_become_a_property_of_its_own() -> None:
    tricky = "Order bleach\r\nEND:VEVENT\r\nBEGIN:VALARM\nATTACH:https://evil.example"
    lines = content_lines(calendar([work(title=tricky)], HOUSE, NOW)[0])
    assert [line for line in lines if line.startswith(("BEGIN", "END"))] == [
        "BEGIN:VCALENDAR",
        "BEGIN:VEVENT",
        "END:VEVENT",
        "END:VCALENDAR",
    ]


def test_a_long_line_is_folded_between_characters() -> None:
    # 3.1: at most 75 octets; a fold inside a character of several octets would be two broken characters.
    long = "Wasserwechsel für Bücephalandra, „größer“ " * 6
    assert unescaped(event(work(title=long))["SUMMARY"]) == long
    for line in calendar([work(title=long)], HOUSE, NOW)[0].split(b"\r\n"):
        line.decode()


def test_the_tag_changes_with_the_work_and_not_with_the_clock() -> None:
    _, first = calendar([work()], HOUSE, NOW)
    assert calendar([work()], HOUSE, datetime(1998, 1, 19, 8, tzinfo=UTC))[1] == first
    assert calendar([work(title="Change it")], HOUSE, NOW)[1] != first
    assert calendar([], HOUSE, NOW)[1] != first


def test_work_makes_nobody_busy_and_is_private() -> None:
    found = event(work())
    assert (found["TRANSP"], found["CLASS"]) == ("TRANSPARENT", "PRIVATE")  # 3.8.2.7 and 3.8.1.3
    assert (found["LOCATION"], found["CATEGORIES"]) == ("Tub A1", "water change")
    assert "Lots: L-1\\, L-2" in found["DESCRIPTION"]


def test_work_in_no_tub_has_no_place() -> None:
    assert "LOCATION" not in event(work(tub=None, lots=[]))
