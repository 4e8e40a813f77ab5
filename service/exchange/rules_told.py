"""What other systems are told of an entry of the journal: the types of events, and the facts of each.

Pure. Facts are chosen member by member: who did it, free text and references of customers and orders never
leave the house.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from enum import StrEnum
from typing import Any


class EventType(StrEnum):
    """What other systems are told of."""

    LOT_RECEIVED = "lot.received"
    LOT_SPLIT = "lot.split"
    LOT_TREATED = "lot.treated"
    LOT_CLEARED = "lot.cleared"
    LOT_OPENED = "lot.opened"
    LOT_RETURNED = "lot.returned"
    LOT_HELD = "lot.held"
    LOT_HOLD_LIFTED = "lot.hold_lifted"
    LOT_RECALLED = "lot.recalled"
    CERTIFICATE_ISSUED = "certificate.issued"
    CERTIFICATE_REVOKED = "certificate.revoked"
    CERTIFICATE_SUPERSEDED = "certificate.superseded"
    INVENTORY_CHANGED = "inventory.changed"
    STOCK_LOW = "stock.low"
    STOCK_RECOVERED = "stock.recovered"
    WORK_OVERDUE = "work.overdue"


BENCH_ONLY = frozenset(
    {
        EventType.LOT_RECEIVED,
        EventType.LOT_TREATED,
        EventType.STOCK_LOW,
        EventType.STOCK_RECOVERED,
        EventType.WORK_OVERDUE,
    }
)
FOR_SHOPS = (
    frozenset(EventType) - BENCH_ONLY
)  # what the selling side needs; the bench is none of its business
SALEABLE = {"cleared", "in_quarantine"}  # states whose lots stand in the inventory, for sale or as coming


@dataclass(frozen=True)
class LotFact:
    """What never changes about a lot."""

    code: str
    plant_id: str


@dataclass(frozen=True)
class Entry:
    """An entry of the journal with the things it is about, as (kind, id)."""

    seq: int
    at: datetime
    recorded_at: datetime
    kind: str
    before: Mapping[str, Any]
    after: Mapping[str, Any]
    hash: str
    about: Sequence[tuple[str, str]]

    def ids(self, kind: str) -> list[str]:
        """The things of one kind that it is about."""
        return [id_ for of, id_ in self.about if of == kind]


Lots = Mapping[str, LotFact]
Told = tuple[str, Mapping[str, Any]]  # the subject and the data
Maker = Callable[[Entry, Lots], Iterator[Told]]


def _each_lot(*members: str, state: str | None = None) -> Maker:
    def make(entry: Entry, lots: Lots) -> Iterator[Told]:
        if state is None or entry.after.get("state") == state:
            for lot_id in entry.ids("lot"):
                yield f"lots/{lot_id}", {**_lot(lot_id, lots), **_chosen(entry, members)}

    return make


def _lot(lot_id: str, lots: Lots) -> dict[str, Any]:
    return {"lot_id": lot_id, "lot_code": lots[lot_id].code, "plant_id": lots[lot_id].plant_id}


def _chosen(entry: Entry, members: Sequence[str]) -> dict[str, Any]:
    both = {**entry.before, **entry.after}
    return {name: both[name] for name in members if name in both}


def _received(entry: Entry, lots: Lots) -> Iterator[Told]:
    for lot_id in entry.ids("lot"):
        facts = {"quantity": entry.after["received"], "unit_of_sale": entry.after["unit_of_sale"]}
        yield f"lots/{lot_id}", {**_lot(lot_id, lots), **facts}


def _split(entry: Entry, lots: Lots) -> Iterator[Told]:
    child_id = entry.after["child_id"]
    for lot_id in entry.ids("lot"):
        if lot_id != child_id:
            child = {"child_lot_id": child_id, "child_lot_code": lots[child_id].code}
            yield f"lots/{lot_id}", {**_lot(lot_id, lots), **child, **_chosen(entry, ["quantity"])}


def _returned(entry: Entry, lots: Lots) -> Iterator[Told]:
    sent = {"dispatch_id": entry.ids("dispatch")[0]}
    for line in entry.after["lines"]:
        sold = {"sold_lot_id": line["sold_lot_id"], "sold_lot_code": lots[line["sold_lot_id"]].code}
        facts = {**sent, **sold, "quantity": line["quantity"]}
        yield f"lots/{line['lot_id']}", {**_lot(line["lot_id"], lots), **facts}


def _treated(entry: Entry, lots: Lots) -> Iterator[Told]:
    for lot_id in entry.ids("lot"):
        yield f"lots/{lot_id}", {**_lot(lot_id, lots), "treatment_id": entry.ids("treatment")[0]}


def _recalled(entry: Entry, lots: Lots) -> Iterator[Told]:
    for lot_id in entry.ids("lot"):
        yield f"lots/{lot_id}", {**_lot(lot_id, lots), "recall_id": entry.ids("recall")[0]}


def _certificate(*members: str) -> Maker:
    def make(entry: Entry, lots: Lots) -> Iterator[Told]:
        serial = entry.after["serial"]
        for lot_id in entry.ids("lot"):
            yield (
                f"certificates/{serial}",
                {
                    "serial": serial,
                    **_lot(lot_id, lots),
                    **_chosen(entry, members),
                },
            )

    return make


def _inventory(entry: Entry, lots: Lots) -> Iterator[Told]:
    by_plant: dict[str, list[str]] = {}
    for lot_id in entry.ids("lot"):
        by_plant.setdefault(lots[lot_id].plant_id, []).append(lot_id)
    for plant_id, lot_ids in sorted(by_plant.items()):
        yield f"inventory/{plant_id}", {"plant_id": plant_id, "lot_ids": sorted(lot_ids)}


def _inventory_by_state(entry: Entry, lots: Lots) -> Iterator[Told]:
    if {entry.before.get("state"), entry.after.get("state")} & SALEABLE:
        yield from _inventory(entry, lots)


def _stock(entry: Entry, _lots: Lots) -> Iterator[Told]:
    members = ("material", "usable", "committed", "reorder_point", "order_by", "packs")
    for material_id in entry.ids("material"):
        yield f"materials/{material_id}", {"material_id": material_id, **_chosen(entry, members)}


def _overdue(entry: Entry, _lots: Lots) -> Iterator[Told]:
    for work_id in entry.ids("overdue_work"):
        members = ("kind", "due_at", "lot_ids", "tub_id", "treatment_id")
        yield f"due-work/{work_id}", {"work_id": work_id, **_chosen(entry, members)}


MOVES_INVENTORY = ((EventType.INVENTORY_CHANGED, _inventory),)
MAKERS: Mapping[str, tuple[tuple[EventType, Maker], ...]] = {
    "lot.received": ((EventType.LOT_RECEIVED, _received),),
    "lot.split": ((EventType.LOT_SPLIT, _split), *MOVES_INVENTORY),
    "treatment.finished": ((EventType.LOT_TREATED, _treated),),
    "lot.state_changed": (
        (EventType.LOT_CLEARED, _each_lot("certificate_serial", state="cleared")),
        (EventType.INVENTORY_CHANGED, _inventory_by_state),
    ),
    "lot.opened": ((EventType.LOT_OPENED, _each_lot()),),
    "dispatch.returned": ((EventType.LOT_RETURNED, _returned),),
    "lot.held": ((EventType.LOT_HELD, _each_lot("hold_id", "cause")), *MOVES_INVENTORY),
    "lot.hold_lifted": ((EventType.LOT_HOLD_LIFTED, _each_lot("hold_id", "cause")), *MOVES_INVENTORY),
    "recall.started": ((EventType.LOT_RECALLED, _recalled),),
    "recall.extended": ((EventType.LOT_RECALLED, _recalled),),
    "certificate.issued": ((EventType.CERTIFICATE_ISSUED, _certificate("quantity", "expires_at")),),
    "certificate.revoked": ((EventType.CERTIFICATE_REVOKED, _certificate()),),
    "certificate.superseded": ((EventType.CERTIFICATE_SUPERSEDED, _certificate()),),
    **dict.fromkeys(
        (
            "lot.lost",
            "lot.rejected",
            "lot.repacked",
            "reservation.made",
            "reservation.freed",
            "reservation.cancelled",
            "reservation.expired",
            "dispatch.made",
            "dispatch.reversed",
        ),
        MOVES_INVENTORY,
    ),
    "stock.low": ((EventType.STOCK_LOW, _stock),),
    "stock.recovered": ((EventType.STOCK_RECOVERED, _stock),),
    "work.overdue": ((EventType.WORK_OVERDUE, _overdue),),
}
