"""Which events of EPCIS 2.0 an entry of the journal is, in the words of CBV 2.0 (GS1, 2022).

CBV has no word for treating and none for quarantine. Treating is a step of our own, a URI as CBV allows;
quarantine is `holding` with the lasting disposition `unavailable`, which release takes away.
"""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field
from typing import Any

from service.exchange.rules_gs1 import lot_uri
from service.exchange.rules_told import Entry

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
    made: Mapping[str, Entry] = field(default_factory=dict)  # the entry that made each, by its id

    def name(self, lot_id: str) -> str:
        """What a lot is called outside the house."""
        code, gtin = self.lots[lot_id]
        return lot_uri(lot_id, code, gtin, self.site.prefix)


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


def _received(entry: Entry, known: Known) -> list[Body]:
    sold_as = entry.after.get("returned_from_id")
    if sold_as:
        quantity = entry.after["received"]
        words = {"bizStep": "receiving", "disposition": "returned"}
        return [_made_of(known, sold_as, entry.ids("lot")[0], quantity, words)]
    counted = dict.fromkeys(entry.ids("lot"), entry.after["received"])
    more: Body = {}
    if entry.after.get("shipment_id"):
        shipment = f"urn:uuid:{entry.after['shipment_id']}"
        more["bizTransactionList"] = [{"type": "recadv", "bizTransaction": shipment}]
    if entry.after.get("supplier_id"):
        supplier = f"urn:uuid:{entry.after['supplier_id']}"
        more["sourceList"] = [{"type": "possessing_party", "source": supplier}]
    return [_object(entry, known, "receiving", "in_progress", action="ADD", counted=counted, **more)]


def _split(entry: Entry, known: Known) -> list[Body]:
    child, quantity = entry.after["child_id"], entry.after["quantity"]
    parent = next(lot_id for lot_id in entry.ids("lot") if lot_id != child)
    return [_made_of(known, parent, child, quantity, {"bizStep": "other", "disposition": "in_progress"})]


def _made_of(known: Known, parent: str, child: str, quantity: int, words: Mapping[str, str]) -> Body:
    return {
        "type": "TransformationEvent",
        **words,
        "inputQuantityList": [{"epcClass": known.name(parent), "quantity": quantity}],
        "outputQuantityList": [{"epcClass": known.name(child), "quantity": quantity}],
    }


def _treated(entry: Entry, known: Known) -> list[Body]:
    treatment = f"urn:uuid:{entry.ids('treatment')[0]}"
    done = [{"type": "prodorder", "bizTransaction": treatment}]
    step = f"{known.site.source}/voc/bizstep/treating"
    return [_object(entry, known, step, "in_progress", bizTransactionList=done)]


def _state(entry: Entry, known: Known) -> list[Body]:
    state = entry.after.get("state")
    if state == "in_quarantine":
        return [_object(entry, known, "holding", "non_sellable_other", persistentDisposition=SET)]
    if state == "cleared":
        check = f"{known.site.source}/c/{entry.after['certificate_serial']}"
        shown = [{"type": "cert", "bizTransaction": check}]
        return [
            _object(
                entry,
                known,
                "accepting",
                "sellable_accessible",
                persistentDisposition=UNSET,
                bizTransactionList=shown,
            )
        ]
    return []


def _held(entry: Entry, known: Known) -> list[Body]:
    return [_object(entry, known, "holding", "non_sellable_other", persistentDisposition=SET)]


def _lifted(entry: Entry, known: Known) -> list[Body]:
    if entry.after.get("state") != "cleared" or entry.after.get("still_held"):
        return []
    return [_object(entry, known, "accepting", "sellable_accessible", persistentDisposition=UNSET)]


def _rejected(entry: Entry, known: Known) -> list[Body]:
    counted = dict.fromkeys(entry.ids("lot"), entry.after["quantity"])
    if entry.after.get("way") == "returned":
        return [_object(entry, known, "shipping", "returned", counted=counted)]
    return [_object(entry, known, "destroying", "destroyed", action="DELETE", counted=counted)]


def _dispatched(entry: Entry, known: Known) -> list[Body]:
    counted: dict[str, int] = {}
    for line in entry.after["lines"]:
        counted[line["lot_id"]] = counted.get(line["lot_id"], 0) + line["quantity"]
    sent = [{"type": "desadv", "bizTransaction": f"urn:uuid:{entry.ids('dispatch')[0]}"}]
    return [_object(entry, known, "shipping", "in_transit", counted=counted, bizTransactionList=sent)]


def _recalled(entry: Entry, known: Known) -> list[Body]:
    if not entry.ids("lot"):
        return []  # nothing was within reach
    return [_object(entry, known, "holding", "recalled", persistentDisposition=SET)]


def _moved(entry: Entry, known: Known) -> list[Body]:
    # Lots were in one tub together while their times from ADD to DELETE overlap. Whether they may be sold a
    # move does not say: it has no disposition.
    left: dict[str, list[str]] = {}
    for lot_id, tub_id in sorted(entry.before["tub_ids"].items()):
        if tub_id is not None:
            left.setdefault(tub_id, []).append(lot_id)
    events = [_among("DELETE", "removing", tub_id, left[tub_id], known) for tub_id in sorted(left)]
    if entry.after["tub_id"] is not None:
        events.append(_among("ADD", "storing", entry.after["tub_id"], entry.ids("lot"), known))
    return events


def _among(action: str, step: str, tub_id: str, lot_ids: Iterable[str], known: Known) -> Body:
    return {
        "type": "AggregationEvent",
        "action": action,
        "bizStep": step,
        "parentID": f"urn:uuid:{tub_id}",
        "childQuantityList": [{"epcClass": known.name(lot_id)} for lot_id in lot_ids],
    }


def _looked(disposition: str) -> Callable[[Entry, Known], list[Body]]:
    def say(entry: Entry, known: Known) -> list[Body]:
        if not entry.ids("lot"):
            return []  # the water of an empty tub
        result = [{"type": "testres", "bizTransaction": f"urn:uuid:{entry.ids('inspection')[0]}"}]
        looked = _object(entry, known, "inspecting", disposition, bizTransactionList=result)
        lot_id = entry.after["lot_id"]
        if lot_id is None or entry.after["method"] != "eyes":
            return [looked]  # at the water as a whole: nothing was sampled
        sample = _object(entry, known, "sampling", "in_progress", bizTransactionList=result)
        return [{**sample, "quantityList": [{"epcClass": known.name(lot_id)}]}, looked]

    return say


WORDS: Mapping[str, Callable[[Entry, Known], list[Body]]] = {
    "lot.received": _received,
    "lot.split": _split,
    "lot.moved": _moved,
    "inspection.recorded": _looked("conformant"),
    "inspection.found_live": _looked("non_conformant"),
    "treatment.finished": _treated,
    "lot.state_changed": _state,
    "lot.held": _held,
    "lot.hold_lifted": _lifted,
    "lot.rejected": _rejected,
    "dispatch.made": _dispatched,
    "recall.started": _recalled,
    "recall.extended": _recalled,
}
