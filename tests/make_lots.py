"""Lots, tubs and shipments for tests."""

from datetime import UTC, datetime, timedelta
from typing import Any

from service.core.db import Database
from service.core.ids import new_id, new_serial
from service.journal.acts import Act
from service.lots.actions import lot_for_change, set_state
from service.lots.rules import State
from service.tubs.models import Tub, WaterSystem
from tests.api import Api

LATE = "entered from the notebook"


def hours_ago(hours: float) -> str:
    """A moment so many hours ago, as clients write it."""
    return (datetime.now(UTC) - timedelta(hours=hours)).isoformat().replace("+00:00", "Z")


def supplier(api: Api, name: str = "Fenmarsh Growers") -> str:
    """The id of a supplier of this name."""
    known = {found["name"]: found["id"] for found in api.grower.seen("/suppliers?limit=200")["items"]}
    return str(known.get(name) or api.grower.made("/suppliers", {"name": name, "country": "NL"})["id"])


def plant(api: Api, code: str = "anubias-barteri") -> str:
    """The id of a plant of the reference data."""
    return next(str(p["id"]) for p in api.grower.seen("/plants?limit=200")["items"] if p["code"] == code)


def line(api: Api, **changes: Any) -> dict[str, Any]:
    """A shipment line of 40 pots."""
    return {"plant_id": plant(api), "quantity": 40, "unit_of_sale": "pot", **changes}


def shipment_body(api: Api, *lines: dict[str, Any], **changes: Any) -> dict[str, Any]:
    """A shipment that is here now."""
    return {"supplier_id": supplier(api), "lines": list(lines) or [line(api)], **changes}


def received_lots(api: Api, *lines: dict[str, Any], hours: float = 0, **changes: Any) -> list[Any]:
    """The lots of one shipment, received so many hours ago, as `GET /lots/{id}` shows them."""
    when = {"received_at": hours_ago(hours), "late_reason": LATE} if hours else {}
    made = api.grower.made("/shipments", shipment_body(api, *lines, **when, **changes))
    return [api.grower.seen(f"/lots/{lot['id']}") for lot in made["lots"]]


def received_lot(api: Api, *, hours: float = 0, **changes: Any) -> Any:
    """One received lot; `changes` are members of its line."""
    return received_lots(api, line(api, **changes), hours=hours)[0]


def tub(database: Database, code: str, *, system: str | None = None, active: bool = True) -> str:
    """The id of a new empty tub of 40 L, in a water system or on its own."""
    with database.writing() as session:
        made = Tub(
            id=new_id(),
            code=code,
            volume_l=40,
            water_system_id=system,
            active=active,
            created_at=datetime.now(UTC),
        )
        session.add(made)
        return made.id


def water_system(database: Database, name: str = "filter 1") -> str:
    """The id of a new water system."""
    with database.writing() as session:
        made = WaterSystem(id=new_id(), name=name, created_at=datetime.now(UTC))
        session.add(made)
        return made.id


def brought_to(database: Database, lot_id: str, *states: State) -> None:
    """Bring a lot through these states without the rooms above."""
    with database.writing() as session:
        now = datetime.now(UTC)
        lot = lot_for_change(session, lot_id)
        for state in states:
            set_state(
                session,
                Act("tests", now, now),
                lot,
                state,
                why="a test",
                certificate_serial=new_serial(),
                good_until=now + timedelta(days=14),
            )


def cleared(database: Database, lot_id: str) -> None:
    """Bring a received lot to `cleared` without the rooms above."""
    brought_to(database, lot_id, State.IN_TREATMENT, State.IN_QUARANTINE, State.CLEARED)
