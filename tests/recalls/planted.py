"""A random history written into the tables as facts, so that it can be asked about over HTTP."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime, timedelta

from sqlalchemy.orm import Session

from service.core.ids import new_id
from service.lots.models import Lot, Stay
from service.sales.models import Dispatch, DispatchLine
from service.tubs.models import Tool, ToolDisinfection, ToolUse, Tub
from tests.recalls.tracer import History


@dataclass(frozen=True)
class Nursery:
    """Where a history happens: ids of plant and supplier, when its hour 0 was, and a name for its things."""

    plant: str
    supplier: str
    begin: datetime
    name: str

    def moment(self, hour: int) -> datetime:
        return self.begin + timedelta(hours=hour)

    def hour(self, at: str) -> int:
        return (datetime.fromisoformat(at) - self.begin) // timedelta(hours=1)


def plant(session: Session, nursery: Nursery, history: History) -> dict[str, str]:
    """Write lots, stays, splits and tools of a history; gives the lots' ids."""
    origins = {child: (parent, at) for parent, child, at in history.splits}
    ids = {lot: new_id() for lot in history.lots}
    waters = {
        water: _tub(session, nursery, water)
        for water in sorted({stay[1] for stay in history.stays} | {use[1] for use in history.uses})
    }
    for lot in history.lots:
        session.add(_lot(nursery, lot, ids, origins))
        session.flush()
    for lot, water, since, until in _written(history, origins):
        entered, left = nursery.moment(since), nursery.moment(until)
        session.add(Stay(lot_id=ids[lot], tub_id=waters[water], entered_at=entered, left_at=left))
    _tools(session, nursery, history, waters)
    return ids


def sold(session: Session, nursery: Nursery, lot_id: str, hour: int, customer: str) -> str:
    """The id of a dispatch of two units of a lot to a customer at an hour."""
    at = nursery.moment(hour)
    sent = Dispatch(
        pack_check={}, order_ref=f"W-{customer}", customer_ref=customer, at=at, recorded_at=at, by="tests"
    )
    session.add(sent)
    session.flush()
    session.add(DispatchLine(dispatch_id=sent.id, n=1, lot_id=lot_id, quantity=2))
    lot = session.get_one(Lot, lot_id)
    lot.sold, lot.left = lot.sold + 2, lot.left - 2
    return sent.id


def _lot(nursery: Nursery, lot: str, ids: Mapping[str, str], origins: Mapping[str, tuple[str, int]]) -> Lot:
    parent, split_at = origins.get(lot, (None, None))
    return Lot(
        id=ids[lot],
        code=f"{nursery.name}-{lot}",
        plant_id=nursery.plant,
        supplier_id=nursery.supplier,
        shipment_id=new_id(),
        parent_lot_id=None if parent is None else ids[parent],
        split_at=None if split_at is None else nursery.moment(split_at),
        state="in_quarantine",
        state_since=nursery.begin,
        unit_of_sale="pot",
        received=100,
        left=100,
        received_at=nursery.begin,
    )


def _written(history: History, origins: Mapping[str, tuple[str, int]]) -> list[tuple[str, str, int, int]]:
    # A lot that is split off takes over the stays of its parent so far, as the service writes them.
    rows = list(history.stays)
    for child in (lot for lot in history.lots if lot in origins):
        parent, at = origins[child]
        rows += [
            (child, w, since, min(until, at)) for lot, w, since, until in rows if lot == parent and since < at
        ]
    return rows


def _tub(session: Session, nursery: Nursery, water: str) -> str:
    tub = Tub(id=new_id(), code=f"{nursery.name}-{water}", volume_l=40, created_at=nursery.begin)
    session.add(tub)
    session.flush()
    return tub.id


def _tools(session: Session, nursery: Nursery, history: History, waters: Mapping[str, str]) -> None:
    names = sorted({use[0] for use in history.uses} | {cleaning[0] for cleaning in history.cleanings})
    tools = {tool: new_id() for tool in names}
    for tool, id_ in tools.items():
        session.add(Tool(id=id_, code=f"{nursery.name}-{tool}", kind="net", created_at=nursery.begin))
    session.flush()
    for tool, water, hour in history.uses:
        at = nursery.moment(hour)
        session.add(ToolUse(tool_id=tools[tool], tub_id=waters[water], at=at, recorded_at=at, by="tests"))
    for tool, hour in history.cleanings:
        at = nursery.moment(hour)
        hot = {"method": "hot_water", "celsius": 60.0, "minutes": 5.0}
        session.add(ToolDisinfection(tool_id=tools[tool], at=at, recorded_at=at, by="tests", **hot))


def sell_out(session: Session, lot_id: str) -> None:
    """What is left of a lot was sold by and by; it is closed."""
    lot = session.get_one(Lot, lot_id)
    lot.sold, lot.left, lot.state = lot.sold + lot.left, 0, "closed"
