"""Entries of the journal as EPCIS 2.0 events with the words of CBV 2.0 (GS1, 2022).

CBV has no word for treating and none for quarantine. Treating is a step of our own, a URI as CBV allows;
quarantine is `holding` with the lasting disposition `unavailable`, which release takes away.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any
from uuid import NAMESPACE_URL, uuid5
from zoneinfo import ZoneInfo

from service.exchange.rules import stamp
from service.exchange.rules_gs1 import lot_uri, place_uri
from service.exchange.rules_told import Entry

CONTEXT = "https://ref.gs1.org/standards/epcis/2.0.0/epcis-context.jsonld"
SET, UNSET = {"set": ["unavailable"]}, {"unset": ["unavailable"]}
Body = dict[str, Any]


@dataclass(frozen=True)
class Site:
    """The house as others see it: address, time zone, GS1 company prefix and GLN if it has them."""

    source: str
    zone: str
    prefix: str | None = None
    gln: str | None = None


@dataclass(frozen=True)
class Known:
    """What an entry alone does not say: what lots are called, and what a reversal takes back."""

    site: Site
    lots: Mapping[str, tuple[str, str | None]]  # code and GTIN of its plant, by id
    dispatches: Mapping[str, Entry] = field(default_factory=dict)  # the entry that made each, by its id

    def name(self, lot_id: str) -> str:
        """What a lot is called outside the house."""
        code, gtin = self.lots[lot_id]
        return lot_uri(lot_id, code, gtin, self.site.prefix)


def document(events: Iterable[Body], at: datetime) -> Body:
    """An EPCIS document of these events."""
    return {
        "@context": [CONTEXT],
        "type": "EPCISDocument",
        "schemaVersion": "2.0",
        "creationDate": stamp(at),
        "epcisBody": {"eventList": list(events)},
    }


def epcis_event(entry: Entry, known: Known) -> Body | None:
    """The event that an entry is, None when it is none for EPCIS."""
    if entry.kind == "dispatch.reversed":
        return _retracted(entry, known)
    say = WORDS[entry.kind](entry, known)
    if say is None:
        return None
    place = {"id": place_uri(known.site.gln, known.site.source)}
    return {
        "type": "ObjectEvent",
        "eventID": f"urn:uuid:{uuid5(NAMESPACE_URL, f'{entry.hash}/epcis')}",
        "eventTime": stamp(entry.at),
        "eventTimeZoneOffset": offset(entry.at, known.site.zone),
        "recordTime": stamp(entry.recorded_at),
        "readPoint": place,
        **({} if say.get("disposition") == "in_transit" else {"bizLocation": place}),
        **say,
    }


def offset(at: datetime, zone: str) -> str:
    """The offset of a zone at a moment, like +02:00."""
    text = at.astimezone(ZoneInfo(zone)).strftime("%z")
    return f"{text[:3]}:{text[3:5]}"


def _retracted(entry: Entry, known: Known) -> Body | None:
    # EPCIS 2.0, error declarations: the same event with the same eventID, and when it was found wrong.
    made = known.dispatches.get(entry.ids("dispatch")[0])
    first = None if made is None else epcis_event(made, known)
    declared = {"declarationTime": stamp(entry.recorded_at), "reason": "did_not_occur"}
    return None if first is None else {**first, "errorDeclaration": declared}


def _object(
    entry: Entry,
    known: Known,
    step: str,
    disposition: str,
    *,
    action: str = "OBSERVE",
    counted: Mapping[str, int] | None = None,
    **more: Any,
) -> Body:
    counted = counted or {}
    listed = [
        {"epcClass": known.name(lot_id), **({"quantity": counted[lot_id]} if lot_id in counted else {})}
        for lot_id in entry.ids("lot")
    ]
    return {
        "action": action,
        "bizStep": step,
        "disposition": disposition,
        "quantityList": listed,
        **more,
    }


def _received(entry: Entry, known: Known) -> Body:
    sold_as = entry.after.get("returned_from_id")
    if sold_as:
        quantity = entry.after["received"]
        words = {"bizStep": "receiving", "disposition": "returned"}
        return _made_of(known, sold_as, entry.ids("lot")[0], quantity, words)
    counted = dict.fromkeys(entry.ids("lot"), entry.after["received"])
    more: Body = {}
    if entry.after.get("shipment_id"):
        shipment = f"urn:uuid:{entry.after['shipment_id']}"
        more["bizTransactionList"] = [{"type": "recadv", "bizTransaction": shipment}]
    if entry.after.get("supplier_id"):
        supplier = f"urn:uuid:{entry.after['supplier_id']}"
        more["sourceList"] = [{"type": "possessing_party", "source": supplier}]
    return _object(entry, known, "receiving", "in_progress", action="ADD", counted=counted, **more)


def _split(entry: Entry, known: Known) -> Body:
    child, quantity = entry.after["child_id"], entry.after["quantity"]
    parent = next(lot_id for lot_id in entry.ids("lot") if lot_id != child)
    return _made_of(known, parent, child, quantity, {"bizStep": "other", "disposition": "in_progress"})


def _made_of(known: Known, parent: str, child: str, quantity: int, words: Mapping[str, str]) -> Body:
    return {
        "type": "TransformationEvent",
        **words,
        "inputQuantityList": [{"epcClass": known.name(parent), "quantity": quantity}],
        "outputQuantityList": [{"epcClass": known.name(child), "quantity": quantity}],
    }


def _treated(entry: Entry, known: Known) -> Body:
    treatment = f"urn:uuid:{entry.ids('treatment')[0]}"
    done = [{"type": "prodorder", "bizTransaction": treatment}]
    step = f"{known.site.source}/voc/bizstep/treating"
    return _object(entry, known, step, "in_progress", bizTransactionList=done)


def _state(entry: Entry, known: Known) -> Body | None:
    state = entry.after.get("state")
    if state == "in_quarantine":
        return _object(entry, known, "holding", "non_sellable_other", persistentDisposition=SET)
    if state == "cleared":
        check = f"{known.site.source}/c/{entry.after['certificate_serial']}"
        shown = [{"type": "cert", "bizTransaction": check}]
        return _object(
            entry,
            known,
            "accepting",
            "sellable_accessible",
            persistentDisposition=UNSET,
            bizTransactionList=shown,
        )
    return None


def _held(entry: Entry, known: Known) -> Body:
    return _object(entry, known, "holding", "non_sellable_other", persistentDisposition=SET)


def _lifted(entry: Entry, known: Known) -> Body | None:
    if entry.after.get("state") != "cleared" or entry.after.get("still_held"):
        return None
    return _object(entry, known, "accepting", "sellable_accessible", persistentDisposition=UNSET)


def _rejected(entry: Entry, known: Known) -> Body:
    counted = dict.fromkeys(entry.ids("lot"), entry.after["quantity"])
    if entry.after.get("way") == "returned":
        return _object(entry, known, "shipping", "returned", counted=counted)
    return _object(entry, known, "destroying", "destroyed", action="DELETE", counted=counted)


def _dispatched(entry: Entry, known: Known) -> Body:
    counted: dict[str, int] = {}
    for line in entry.after["lines"]:
        counted[line["lot_id"]] = counted.get(line["lot_id"], 0) + line["quantity"]
    sent = [{"type": "desadv", "bizTransaction": f"urn:uuid:{entry.ids('dispatch')[0]}"}]
    return _object(entry, known, "shipping", "in_transit", counted=counted, bizTransactionList=sent)


def _recalled(entry: Entry, known: Known) -> Body | None:
    if not entry.ids("lot"):
        return None  # nothing was within reach
    return _object(entry, known, "holding", "recalled", persistentDisposition=SET)


WORDS: Mapping[str, Callable[[Entry, Known], Body | None]] = {
    "lot.received": _received,
    "lot.split": _split,
    "treatment.finished": _treated,
    "lot.state_changed": _state,
    "lot.held": _held,
    "lot.hold_lifted": _lifted,
    "lot.rejected": _rejected,
    "dispatch.made": _dispatched,
    "recall.started": _recalled,
    "recall.extended": _recalled,
}
KINDS = (*WORDS, "dispatch.reversed")
