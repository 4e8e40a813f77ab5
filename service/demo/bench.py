"""What the demo's people do, as plain sentences; `day` counts from the first delivery."""

from collections.abc import Callable
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Any

from service.demo.client import Client

Act = tuple[float, str, Callable[[], None]]  # day of the story, what is told, what is done
WEEKS = 6
LATE = "demo: played back from the nursery's notebook"


@dataclass
class Bench:
    """The nursery on its bench: ids by name, and the clock of the story."""

    clients: dict[str, Client]
    now: datetime = field(default_factory=lambda: datetime.now(UTC).replace(microsecond=0))
    tubs: dict[str, str] = field(default_factory=dict)
    lots: dict[str, dict[str, Any]] = field(default_factory=dict)
    plants: dict[str, str] = field(default_factory=dict)
    running: dict[str, str] = field(default_factory=dict)

    @property
    def start(self) -> datetime:
        """The morning of the first delivery."""
        return (self.now - timedelta(weeks=WEEKS)).replace(minute=0, second=0)

    def when(self, day: float) -> dict[str, str]:
        """`at` and `late_reason` of an act on a day; never later than now."""
        at = min(self.start + timedelta(days=day), self.now)
        return {"at": at.isoformat().replace("+00:00", "Z"), "late_reason": LATE}

    @property
    def grower(self) -> Client:
        """Whoever works at the bench."""
        return self.clients["grower"]

    def learn(self) -> None:
        """Look up the plants that the house knows."""
        self.plants = {item["code"]: item["id"] for item in self.grower.get("/plants?limit=200")["items"]}

    def stock(self, day: float, material: str, value: float, unit: str, **more: Any) -> None:
        """A bottle or bag comes in."""
        ids = {item["code"]: item["id"] for item in self.grower.get("/materials?limit=200")["items"]}
        body = {"batch_number": f"{material}-26A", "quantity": {"value": value, "unit": unit}, **more}
        self.grower.post(f"/materials/{ids[material]}/batches", {**body, **self.when(day)})

    def tub(self, code: str, litres: float, celsius: float) -> None:
        """A tub is set up."""
        body = {
            "code": code,
            "volume": {"value": litres, "unit": "L"},
            "set_point": {"value": celsius, "unit": "Cel"},
        }
        self.tubs[code] = self.grower.post("/tubs", body)["id"]

    def receive(self, day: float, supplier: str, lines: dict[str, tuple[str, int, str]], **more: Any) -> None:
        """A delivery: name of each lot -> plant, quantity, unit."""
        body = {
            "supplier_id": supplier,
            "received_at": self.when(day)["at"],
            "late_reason": LATE,
            "lines": [
                {"plant_id": self.plants[plant], "quantity": quantity, "unit_of_sale": unit, **more}
                for plant, quantity, unit in lines.values()
            ],
        }
        for name, lot in zip(lines, self.grower.post("/shipments", body)["lots"], strict=True):
            self.lots[name] = lot

    def look(self, day: float, name: str, *findings: dict[str, Any], **more: Any) -> None:
        """A full look at a lot, or a look at a tub with method strain or bait."""
        body: dict[str, Any] = {"findings": list(findings), **self.when(day), **more}
        if name in self.tubs:
            body["tub_id"] = self.tubs[name]
        else:
            body["lot_id"] = self.lots[name]["id"]
            body.setdefault(
                "sample_size", self.grower.get(f"/lots/{self.lots[name]['id']}")["quantity"]["left"]
            )
        self.grower.post("/inspections", body)

    def plan(self, day: float, protocol: str, tub: str, *names: str, **more: Any) -> None:
        """A treatment is planned on lots in a tub."""
        lots = [self.lots[name]["id"] for name in names]
        body = {
            "protocol": protocol,
            "version": 1,
            "tub_id": self.tubs[tub],
            "lot_ids": lots,
            **self.when(day),
        }
        self.running[tub] = self.grower.post("/treatments", {**body, **more})["id"]

    def step(self, day: float, tub: str, n: int, hours: float, **more: Any) -> None:
        """A step is started and, after so many hours, finished."""
        path = f"/treatments/{self.running[tub]}/steps/{n}"
        self.grower.post(f"{path}/start", self.when(day))
        self.grower.post(f"{path}/finish", {**self.when(day + hours / 24), **more})

    def finish(self, day: float, tub: str) -> None:
        """The treatment in a tub is finished: its lots are in quarantine."""
        self.grower.post(f"/treatments/{self.running[tub]}/finish", self.when(day))

    def change_water(self, day: float, tub: str, *, redose: bool = False) -> None:
        """All the water is changed; a running course gets its dose again."""
        body = {"fraction": 1.0, "redose": redose, **self.when(day)}
        self.grower.post(f"/tubs/{self.tubs[tub]}/water-changes", body)

    def measure(self, day: float, tub: str, substance: str, value: float) -> None:
        """A test kit is read."""
        body = {
            "substance": substance,
            "value": value,
            "kit": "drop test",
            "kit_limit": 0.05,
            **self.when(day),
        }
        self.grower.post(f"/tubs/{self.tubs[tub]}/measurements", body)

    def log(self, first: int, last: int, tub: str, celsius: float) -> None:
        """The logger of a tub is read out: one value an hour with a small swing over the day."""
        readings = []
        for hour in range(first * 24, last * 24):
            at = self.start + timedelta(hours=hour)
            if at <= self.now:
                swing = 0.5 if 10 <= at.hour < 20 else -0.2
                stamp = at.isoformat().replace("+00:00", "Z")
                readings.append({"at": stamp, "value": round(celsius + swing, 2), "unit": "Cel"})
        if readings:
            body = {"readings": readings, "late_reason": LATE}
            self.grower.post(f"/tubs/{self.tubs[tub]}/temperatures", body)
