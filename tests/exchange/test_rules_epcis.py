"""What an entry is in the words of EPCIS and CBV."""

from dataclasses import replace
from datetime import UTC, datetime
from typing import Any

import pytest

from service.exchange.rules_epcis import KINDS, MISTAKES, document, epcis_events, offset
from service.exchange.rules_epcis_words import WORDS, Known, Site
from service.exchange.rules_told import Entry
from tests.exchange.epcis_schema import faults
from tests.reference.outside import Kind, outside

AT = datetime(2026, 3, 2, 9, tzinfo=UTC)
SITE = Site("https://nursery.example", "Europe/Amsterdam", "952132", "9521321000001")
A, B = "0195a1b2-0000-7000-8000-00000000000a", "0195a1b2-0000-7000-8000-00000000000b"
T, D, R = (f"0195a1b2-0000-7000-8000-0000000000{n}" for n in ("01", "02", "03"))
LOTS: dict[str, tuple[str, str | None]] = {A: ("260302-01", "09521321000018"), B: ("260302-02", None)}
NAME_A, NAME_B = "https://id.gs1.org/01/09521321000018/10/260302-01", f"urn:uuid:{B}"


def entry(kind: str, *about: tuple[str, str], **after: Any) -> Entry:
    return Entry(7, AT, AT, kind, {}, after, "c0ffee", about)


def all_said(found: Entry, known: Known | None = None) -> list[Any]:
    events = epcis_events(found, known or Known(SITE, LOTS))
    assert faults(document(events, AT)) == []
    return events


def said(found: Entry, known: Known | None = None) -> Any:
    [event] = all_said(found, known)
    return event


LOT, BOTH = ("lot", A), (("lot", A), ("lot", B))
SENT = entry(
    "dispatch.made",
    ("dispatch", D),
    *BOTH,
    lines=[{"lot_id": A, "quantity": 6}, {"lot_id": B, "quantity": 2}],
)


@outside(Kind.STANDARD, "EPCIS 2.0 and CBV 2.0: words of each step, required members")
@pytest.mark.parametrize(
    ("found", "action", "step", "disposition"),
    [
        (
            entry("lot.received", LOT, received=40, shipment_id=T, supplier_id=D),
            "ADD",
            "receiving",
            "in_progress",
        ),
        (entry("lot.received", LOT, received=40), "ADD", "receiving", "in_progress"),
        (
            entry("treatment.finished", *BOTH, ("treatment", T)),
            "OBSERVE",
            "https://nursery.example/voc/bizstep/treating",
            "in_progress",
        ),
        (entry("lot.state_changed", LOT, state="in_quarantine"), "OBSERVE", "holding", "non_sellable_other"),
        (
            entry("lot.state_changed", LOT, state="cleared", certificate_serial="S1"),
            "OBSERVE",
            "accepting",
            "sellable_accessible",
        ),
        (entry("lot.held", LOT, cause="look"), "OBSERVE", "holding", "non_sellable_other"),
        (entry("lot.hold_lifted", LOT, state="cleared"), "OBSERVE", "accepting", "sellable_accessible"),
        (entry("lot.rejected", LOT, quantity=4, way="destroyed"), "DELETE", "destroying", "destroyed"),
        (entry("lot.rejected", LOT, quantity=4, way="returned"), "OBSERVE", "shipping", "returned"),
        (SENT, "OBSERVE", "shipping", "in_transit"),
        (entry("recall.started", *BOTH, ("recall", R)), "OBSERVE", "holding", "recalled"),
        (entry("recall.extended", LOT, ("recall", R)), "OBSERVE", "holding", "recalled"),
    ],
)
def test_a_step_in_the_words_of_the_standard(found: Entry, action: str, step: str, disposition: str) -> None:
    event = said(found)
    assert (event["action"], event["bizStep"], event["disposition"]) == (action, step, disposition)
    assert event["readPoint"] == {"id": "https://id.gs1.org/414/9521321000001"}
    assert ("bizLocation" in event) == (disposition != "in_transit")


@pytest.mark.parametrize(
    "found",
    [
        entry("lot.state_changed", LOT, state="in_treatment"),
        entry("lot.hold_lifted", LOT, state="in_quarantine"),
        entry("lot.hold_lifted", LOT, state="cleared", still_held=True),
        entry("lot.hold_lifted", LOT),  # written before the state was
        entry("recall.started", ("recall", R)),
        entry("dispatch.reversed", ("dispatch", D), LOT),  # of a dispatch that is not known
    ],
)
def test_what_changes_nothing_for_others_is_no_event(found: Entry) -> None:
    assert all_said(found) == []


def test_how_many_of_which_lot_left() -> None:
    assert said(SENT)["quantityList"] == [
        {"epcClass": NAME_A, "quantity": 6},
        {"epcClass": NAME_B, "quantity": 2},
    ]
    assert said(SENT)["bizTransactionList"] == [{"type": "desadv", "bizTransaction": f"urn:uuid:{D}"}]


def test_release_takes_away_what_quarantine_set_and_names_the_certificate() -> None:
    quarantined = said(entry("lot.state_changed", LOT, state="in_quarantine"))
    cleared = said(entry("lot.state_changed", LOT, state="cleared", certificate_serial="S1"))
    assert quarantined["persistentDisposition"] == {"set": ["unavailable"]}
    assert cleared["persistentDisposition"] == {"unset": ["unavailable"]}
    shown = {"type": "cert", "bizTransaction": "https://nursery.example/c/S1"}
    assert cleared["bizTransactionList"] == [shown]


def test_a_split_ends_units_of_one_lot_and_begins_another() -> None:
    event = said(entry("lot.split", *BOTH, child_id=B, quantity=5))
    assert event["type"] == "TransformationEvent"
    assert event["inputQuantityList"] == [{"epcClass": NAME_A, "quantity": 5}]
    assert event["outputQuantityList"] == [{"epcClass": NAME_B, "quantity": 5}]


@outside(Kind.STANDARD, "CBV 2.0: `returned` goes with the step `receiving` where the object is taken back")
def test_what_a_customer_sends_back_ends_units_sold_and_begins_a_lot_of_no_supplier() -> None:
    came = entry("lot.received", ("lot", B), received=4, returned_from_id=A, shipment_id=T, supplier_id=D)
    event = said(came)
    assert (event["type"], event["bizStep"], event["disposition"]) == (
        "TransformationEvent",
        "receiving",
        "returned",
    )
    assert event["inputQuantityList"] == [{"epcClass": NAME_A, "quantity": 4}]
    assert event["outputQuantityList"] == [{"epcClass": NAME_B, "quantity": 4}]
    assert "sourceList" not in event


@outside(
    Kind.STANDARD, "EPCIS 2.0, error declaration: the same event and eventID, with the time it was declared"
)
def test_a_dispatch_taken_back_is_declared_an_error() -> None:
    taken_back = entry("dispatch.reversed", ("dispatch", D), *BOTH, reason="wrong customer: Ana")
    event = said(taken_back, Known(SITE, LOTS, {D: SENT}))
    declared = event.pop("errorDeclaration")
    assert event == said(SENT)
    assert declared == {"declarationTime": "2026-03-02T09:00:00Z", "reason": "did_not_occur"}


def test_the_offset_is_that_of_the_place_at_that_moment() -> None:
    assert offset(AT, "Europe/Amsterdam") == "+01:00"
    assert offset(datetime(2026, 7, 1, tzinfo=UTC), "Europe/Amsterdam") == "+02:00"
    assert offset(AT, "America/St_Johns") == "-03:30"
    assert offset(AT, "UTC") == "+00:00"


def test_every_kind_of_entry_that_is_read_is_known() -> None:
    assert set(KINDS) == {*WORDS, *MISTAKES}


def moved(places: dict[str, str | None], to: str | None) -> list[Any]:
    about = [("lot", lot) for lot in places]
    return all_said(replace(entry("lot.moved", *about, tub_id=to), before={"tub_ids": places}))


@outside(
    Kind.STANDARD, "EPCIS 2.0, AggregationEvent: ADD to a parent, DELETE from it; CBV 2.0: storing, removing"
)
def test_into_a_tub_and_out_of_it() -> None:
    events = moved({A: T, B: None}, D)
    assert [
        (event["type"], event["action"], event["bizStep"], event["parentID"], names(event))
        for event in events
    ] == [
        ("AggregationEvent", "DELETE", "removing", f"urn:uuid:{T}", [NAME_A]),
        ("AggregationEvent", "ADD", "storing", f"urn:uuid:{D}", [NAME_A, NAME_B]),
    ]
    assert len({event["eventID"] for event in events}) == 2
    assert [event["action"] for event in moved({A: T, B: R}, None)] == ["DELETE", "DELETE"]


def names(event: Any) -> list[str]:
    return [child["epcClass"] for child in event.get("childQuantityList", event.get("quantityList"))]


def look(kind: str, *about: tuple[str, str], **after: Any) -> Entry:
    return entry(kind, *about, ("inspection", T), **{"lot_id": None, "method": "strain", **after})


@outside(Kind.STANDARD, "CBV 2.0: sampling and inspecting, conformant and non_conformant, testres")
@pytest.mark.parametrize(
    ("kind", "disposition"),
    [("inspection.recorded", "conformant"), ("inspection.found_live", "non_conformant")],
)
def test_a_look_samples_the_lot_and_says_how_what_it_concerns_was_found(kind: str, disposition: str) -> None:
    sampled, looked = all_said(look(kind, *BOTH, lot_id=A, method="eyes"))
    assert (sampled["bizStep"], sampled["disposition"], names(sampled)) == (
        "sampling",
        "in_progress",
        [NAME_A],
    )
    assert (looked["bizStep"], looked["disposition"]) == ("inspecting", disposition)
    assert names(looked) == [NAME_A, NAME_B]
    result = [{"type": "testres", "bizTransaction": f"urn:uuid:{T}"}]
    assert sampled["bizTransactionList"] == looked["bizTransactionList"] == result


def test_strain_and_bait_are_of_the_water_and_sample_no_lot() -> None:
    for lot_id in (None, A):
        assert said(look("inspection.recorded", *BOTH, lot_id=lot_id))["bizStep"] == "inspecting"
    assert all_said(look("inspection.recorded")) == []  # an empty tub


def test_a_look_that_was_wrong_is_declared_an_error() -> None:
    found = look("inspection.found_live", LOT, lot_id=A, method="eyes")
    voided = entry("inspection.voided", LOT, ("inspection", T), reason="another tub")
    events = all_said(voided, Known(SITE, LOTS, {T: found}))
    declared = {"declarationTime": "2026-03-02T09:00:00Z", "reason": "incorrect_data"}
    assert events == [{**event, "errorDeclaration": declared} for event in all_said(found)]
