"""Which events an entry is, and that they are CloudEvents."""

from datetime import UTC, datetime
from typing import Any

import pytest

from service.exchange.rules import Event, envelope, events_of, kinds_for
from service.exchange.rules_told import FOR_SHOPS, MAKERS, Entry, EventType, LotFact
from tests.exchange.cloud_events import faults

AT = datetime(2026, 3, 2, 9, tzinfo=UTC)
LOTS = {"a": LotFact("260302-01", "anubias"), "b": LotFact("260302-02", "moss"), "c": LotFact("-1", "moss")}
HOUSE = "https://nursery.example"


def entry(kind: str, *about: tuple[str, str], before: Any = None, after: Any = None) -> Entry:
    return Entry(7, AT, AT, kind, before or {}, after or {}, "c0ffee", about)


def told(found: list[Event]) -> list[tuple[str, str]]:
    return [(event.type.value, event.subject) for event in found]


CASES: list[tuple[Entry, list[tuple[str, str]]]] = [
    (
        entry("lot.received", ("lot", "a"), after={"received": 40, "unit_of_sale": "pot"}),
        [("lot.received", "lots/a")],
    ),
    (
        entry("lot.split", ("lot", "b"), ("lot", "c"), after={"child_id": "c", "quantity": 5}),
        [("lot.split", "lots/b"), ("inventory.changed", "inventory/moss")],
    ),
    (
        entry("treatment.finished", ("lot", "a"), ("lot", "b"), ("treatment", "t"), ("tub", "u")),
        [("lot.treated", "lots/a"), ("lot.treated", "lots/b")],
    ),
    (
        entry(
            "lot.state_changed",
            ("lot", "a"),
            before={"state": "in_quarantine"},
            after={"state": "cleared", "certificate_serial": "S1"},
        ),
        [("lot.cleared", "lots/a"), ("inventory.changed", "inventory/anubias")],
    ),
    (
        entry(
            "lot.state_changed",
            ("lot", "a"),
            before={"state": "cleared", "certificate_serial": "S1"},
            after={"state": "in_quarantine"},
        ),
        [("inventory.changed", "inventory/anubias")],
    ),
    (
        entry(
            "lot.state_changed",
            ("lot", "a"),
            before={"state": "received"},
            after={"state": "in_treatment"},
        ),
        [],
    ),
    (
        entry("lot.held", ("lot", "a"), after={"hold_id": "h", "cause": "look", "reason": "Ana saw it"}),
        [("lot.held", "lots/a"), ("inventory.changed", "inventory/anubias")],
    ),
    (entry("lot.opened", ("lot", "a"), after={"reason": "Ana potted them"}), [("lot.opened", "lots/a")]),
    (
        entry(
            "dispatch.returned",
            ("dispatch", "d"),
            ("lot", "a"),
            ("lot", "b"),
            after={"reason": "too many", "lines": [{"lot_id": "b", "sold_lot_id": "a", "quantity": 4}]},
        ),
        [("lot.returned", "lots/b")],
    ),
    (
        entry("recall.started", ("lot", "a"), ("lot", "b"), ("recall", "r"), after={"reason": "by Ana"}),
        [("lot.recalled", "lots/a"), ("lot.recalled", "lots/b")],
    ),
    (
        entry(
            "certificate.issued",
            ("certificate", "k"),
            ("lot", "a"),
            after={"serial": "S1", "quantity": 40, "expires_at": "2026-04-02T09:00:00+00:00"},
        ),
        [("certificate.issued", "certificates/S1")],
    ),
    (
        entry("certificate.revoked", ("certificate", "k"), ("lot", "a"), after={"serial": "S1"}),
        [("certificate.revoked", "certificates/S1")],
    ),
    (
        entry("dispatch.made", ("dispatch", "d"), ("lot", "a"), ("lot", "b"), ("lot", "c"), after={}),
        [("inventory.changed", "inventory/anubias"), ("inventory.changed", "inventory/moss")],
    ),
    (
        entry("stock.low", ("material", "m"), after={"material": "potassium-alum", "packs": 1}),
        [("stock.low", "materials/m")],
    ),
    (
        entry("work.overdue", ("overdue_work", "w"), after={"kind": "inspect", "lot_ids": ["a"]}),
        [("work.overdue", "due-work/w")],
    ),
    (entry("tub.measured", ("tub", "u")), []),
]


@pytest.mark.parametrize(("written", "wanted"), CASES, ids=[str(n) for n in range(len(CASES))])
def test_an_entry_is_these_events(written: Entry, wanted: list[tuple[str, str]]) -> None:
    found = events_of(written, LOTS)
    assert told(found) == wanted
    assert [event.n for event in found] == [*range(1, len(wanted) + 1)]
    for event in found:
        assert faults(envelope(event, HOUSE)) == []


@pytest.mark.parametrize(
    "broken",
    [
        {"specversion": "0.3"},
        {"id": ""},
        {"source": ""},
        {"time": "2026-03-02 09:00"},
        {"Camel": "x"},
        {"nested": {"a": 1}},
        {"data_base64": "aGk="},
    ],
    ids=lambda broken: next(iter(broken)),
)
def test_the_check_for_cloud_events_finds_what_is_none(broken: dict[str, Any]) -> None:
    [event] = events_of(CASES[0][0], LOTS)
    assert faults({**envelope(event, HOUSE), **broken})


def test_the_envelope_says_when_it_happened_when_it_was_written_and_in_which_order() -> None:
    happened = datetime(2026, 3, 1, 9, tzinfo=UTC)
    late = Entry(7, happened, AT, "lot.received", {}, CASES[0][0].after, "c0ffee", [("lot", "a")])
    sent = envelope(events_of(late, LOTS)[0], HOUSE)
    assert (sent["time"], sent["recordedtime"]) == ("2026-03-01T09:00:00Z", "2026-03-02T09:00:00Z")
    assert sent["sequence"] == "000000000007.0001"
    assert sent["source"] == HOUSE
    assert sent["data"]["lot_code"] == "260302-01"


def test_the_same_entry_is_the_same_events_and_another_is_others() -> None:
    written = CASES[1][0]
    ids = [event.id for event in events_of(written, LOTS)]
    assert ids == [event.id for event in events_of(written, LOTS)]
    assert len(set(ids)) == 2
    other = Entry(8, AT, AT, written.kind, {}, written.after, "beef", written.about)
    assert not set(ids) & {event.id for event in events_of(other, LOTS)}


def test_no_words_and_names_of_people_leave_the_house() -> None:
    secret = {"reason": "Ana Sample", "customer": "c-1", "order_ref": "W-1", "by": "Ana", "why": "Ana"}
    for kind in MAKERS:
        needed = {"received": 1, "unit_of_sale": "pot", "child_id": "c", "serial": "S", "state": "cleared"}
        needed["lines"] = [{"lot_id": "b", "sold_lot_id": "a", "quantity": 4}]
        about = [
            ("lot", "a"),
            ("dispatch", "d"),
            ("treatment", "t"),
            ("recall", "r"),
            ("material", "m"),
            ("overdue_work", "w"),
        ]
        full = Entry(7, AT, AT, kind, {**secret}, {**needed, **secret}, "c0ffee", about)
        made = events_of(full, LOTS)
        assert made, kind
        for event in made:
            assert not set(event.data) & set(secret), kind


def test_a_shop_is_told_of_what_is_sold_and_not_of_the_bench() -> None:
    assert {EventType.LOT_RECALLED, EventType.INVENTORY_CHANGED, EventType.CERTIFICATE_REVOKED} <= FOR_SHOPS
    assert not {EventType.STOCK_LOW, EventType.WORK_OVERDUE, EventType.LOT_TREATED} & FOR_SHOPS


def test_only_entries_that_can_be_an_event_are_read() -> None:
    assert kinds_for(frozenset({EventType.LOT_CLEARED})) == ["lot.state_changed"]
    assert kinds_for(frozenset({EventType.LOT_RECALLED})) == ["recall.extended", "recall.started"]
    assert kinds_for(frozenset(EventType)) == sorted(MAKERS)
