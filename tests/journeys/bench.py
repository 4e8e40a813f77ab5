"""What people at the bench do, as short sentences over HTTP; days are counted from the receipt."""

from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

from tests.api import Api

LATE = "entered from the notebook"


def days_ago(days: float) -> datetime:
    """A full hour so many days ago."""
    return datetime.now(UTC).replace(minute=0, second=0, microsecond=0) - timedelta(days=days)


@dataclass
class Bench:
    """A nursery with a supplier, whose work began `age` days ago."""

    api: Api
    age: int = 50
    supplier: Any = field(init=False)
    plants: dict[str, str] = field(init=False)
    materials: dict[str, str] = field(init=False)

    def __post_init__(self) -> None:
        self.start = days_ago(self.age)
        self.supplier = self.api.grower.made("/suppliers", {"name": "Fenmarsh Growers", "country": "NL"})
        self.plants = {p["code"]: p["id"] for p in self.api.grower.seen("/plants?limit=200")["items"]}
        self.materials = {m["code"]: m["id"] for m in self.api.grower.seen("/materials?limit=200")["items"]}

    def when(self, day: float) -> dict[str, str]:
        """The `at` and `late_reason` of an act on a day."""
        at = self.start + timedelta(days=day)
        return {"at": at.isoformat().replace("+00:00", "Z"), "late_reason": LATE}

    def tub(self, code: str, litres: float = 40, **more: Any) -> str:
        body = {
            "code": code,
            "volume": {"value": litres, "unit": "L"},
            "set_point": {"value": 24, "unit": "Cel"},
        }
        return str(self.api.grower.made("/tubs", {**body, **more})["id"])

    def batch(self, material: str, value: float, unit: str, **more: Any) -> Any:
        body = {
            "batch_number": f"{material}-1",
            "quantity": {"value": value, "unit": unit},
            **self.when(0),
            **more,
        }
        return self.api.grower.made(f"/materials/{self.materials[material]}/batches", body)

    def lot(self, plant: str, quantity: int, *, day: float = 0, **more: Any) -> Any:
        line = {"plant_id": self.plants[plant], "quantity": quantity, "unit_of_sale": "pot", **more}
        when = self.when(day)
        body = {
            "supplier_id": self.supplier["id"],
            "received_at": when["at"],
            "late_reason": LATE,
            "documents": [{"kind": "plant_passport", "number": "NL-0000-001"}],
            "lines": [line],
        }
        return self.api.grower.made("/shipments", body)["lots"][0]

    def look(self, day: float, *, findings: list[Any] | None = None, **more: Any) -> Any:
        body = {**self.when(day), "findings": findings or [], **more}
        return self.api.grower.made("/inspections", body)

    def treat(
        self, protocol: str, tub: str, lots: list[str], day: float, hours: list[float], **more: Any
    ) -> Any:
        """Carry a protocol out; `hours` is how long each step lasted, none of them a departure."""
        body = {"protocol": protocol, "version": 1, "tub_id": tub, "lot_ids": lots, **self.when(day), **more}
        treatment = self.api.grower.made("/treatments", body)
        moment = day
        for n, lasted in enumerate(hours, 1):
            path = f"/treatments/{treatment['id']}/steps/{n}"
            self.api.grower.made(f"{path}/start", self.when(moment))
            moment += lasted / 24
            self.api.grower.made(f"{path}/finish", self.when(moment))
        return self.api.grower.made(f"/treatments/{treatment['id']}/finish", self.when(moment))

    def logger(self, tub: str, first: float, last: float, celsius: float) -> None:
        """An hourly log of the tub from one day to another, uploaded at once."""
        hours = range(int(first * 24), int(last * 24) + 1)
        readings = [{"at": self.when(hour / 24)["at"], "value": celsius, "unit": "Cel"} for hour in hours]
        self.api.grower.made(f"/tubs/{tub}/temperatures", {"readings": readings, "late_reason": LATE})

    def strain(self, tub: str, first: float, last: float) -> None:
        """The old water strained once a week, nothing found."""
        day = first
        while day <= last:
            self.look(day, tub_id=tub, method="strain")
            day += 7

    def see(self, lot: str) -> Any:
        return self.api.grower.seen(f"/lots/{lot}")

    def lift(self, lot: str) -> None:
        """Lift every hold of a lot, as the manager, on the version just read."""
        for hold in self.see(lot)["holds"]:
            tag = self.api.manager.get(f"/lots/{lot}").headers["ETag"]
            path = f"/lots/{lot}/holds/{hold['id']}?reason=looked+again"
            answer = self.api.manager.send("DELETE", path, headers={"If-Match": tag})
            assert answer.status_code == 200, answer.get_json()

    def gates(self, lot: str) -> dict[str, Any]:
        return {gate["code"]: gate for gate in self.api.grower.seen(f"/lots/{lot}/clearance")["gates"]}

    def clear(self, lot: str) -> Any:
        """Decide, as the manager, on the version just read."""
        tag = self.api.manager.get(f"/lots/{lot}").headers["ETag"]
        return self.api.manager.post(f"/lots/{lot}/clearance", {}, If_Match=tag)

    def cleared_lot(self, quantity: int = 20, tub: str | None = None, plant: str = "anubias-barteri") -> str:
        """A lot with a certificate."""
        lot = self.ready_lot(quantity, tub, plant)
        answer = self.clear(lot)
        assert answer.status_code == 201, answer.get_json()
        return lot

    def ready_lot(self, quantity: int = 20, tub: str | None = None, plant: str = "anubias-barteri") -> str:
        """A lot carried through quarantine alone: the quickest honest way to all gates open."""
        tub = tub or self.tub("Q1")
        lot = str(self.lot(plant, quantity)["id"])
        self.look(0.05, lot_id=lot, sample_size=quantity)
        self.treat("quarantine-only", tub, [lot], 0.1, [1])
        self.logger(tub, 0, self.age, 24)
        self.strain(tub, 3, self.age - 6)
        self.look(7, tub_id=tub, method="bait")
        self.look(self.age - 5, lot_id=lot, sample_size=quantity)
        self.look(self.age - 1, lot_id=lot, sample_size=quantity)
        return lot
