"""A small nursery run over HTTP, act after act, with the diary that the brute-force tracer reads."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any

from service.core.db import Database
from service.core.ids import new_id
from service.lots.models import Lot
from service.sales.models import Dispatch, DispatchLine
from tests.api import Api
from tests.make_lots import line, shipment_body
from tests.recalls.ways import Diary

HOT = {"method": "hot_water", "celsius": 60, "minutes": 6}
BLEACH = {"method": "bleach", "minutes": 30}  # counts for nothing by decision 15: it stays a way


@dataclass
class Nursery:
    """Tubs, tools and lots by short names; every act that the service took stands in the diary."""

    api: Api
    database: Database
    diary: Diary = field(default_factory=Diary)
    ids: dict[str, str] = field(default_factory=dict)
    mark: str = field(default_factory=lambda: new_id()[-10:])

    def tub(self, name: str, system: str | None = None) -> None:
        body: dict[str, Any] = {"code": f"{name}-{self.mark}", "volume": {"value": 40, "unit": "L"}}
        body |= {"water_system_id": None if system is None else self.ids[system]}
        self.ids[name] = self.api.grower.made("/tubs", body)["id"]
        self.diary.system_of[self.diary.act()][name] = system

    def system(self, name: str) -> None:
        self.ids[name] = self.api.grower.made("/water-systems", {"name": f"{name}-{self.mark}"})["id"]

    def net(self, name: str) -> None:
        self.ids[name] = self.api.grower.made("/tools", {"code": f"{name}-{self.mark}", "kind": "net"})["id"]

    def receive(self, lots: Sequence[tuple[str, str | None, str | None]]) -> None:
        """Lots of one shipment: name, tub and bag of each."""
        lines = [
            line(self.api, tub_id=None if tub is None else self.ids[tub], bag=bag) for _, tub, bag in lots
        ]
        made = self._try("/shipments", shipment_body(self.api, *lines, share_water=True))
        if made is None:
            return
        moment = self.diary.act()
        for (name, tub, _), lot in zip(lots, made["lots"], strict=True):
            self.ids[name] = lot["id"]
            self.diary.received[name] = moment
            self.diary.tub_of[moment][name] = tub
        for bag in {bag for _, _, bag in lots if bag}:
            self.diary.bags.append(([name for name, _, own in lots if own == bag], moment))

    def move(self, lot: str, tub: str) -> None:
        body = {"tub_id": self.ids[tub], "share_water": True}
        if self.diary.tub_of[-1][lot] != tub and self._try(f"/lots/{self.ids[lot]}/moves", body):
            self.diary.tub_of[self.diary.act()][lot] = tub

    def split(self, lot: str, child: str, tub: str | None) -> None:
        body: dict[str, Any] = {"quantity": 4, "reason": "two benches", "share_water": True}
        body |= {} if tub is None else {"tub_id": self.ids[tub]}
        made = self._try(f"/lots/{self.ids[lot]}/splits", body)
        if made is not None:
            self.ids[child] = made["id"]
            moment = self.diary.act()
            self.diary.splits.append((lot, child, moment))
            self.diary.tub_of[moment][child] = tub or self.diary.tub_of[moment][lot]

    def plumb(self, tub: str, system: str | None) -> None:
        """Connect a tub to a water system, or cut it off; the service takes only an empty one."""
        path = f"/tubs/{self.ids[tub]}"
        tag = self.api.grower.get(path).headers["ETag"]
        body = {"water_system_id": None if system is None else self.ids[system]}
        if self.api.grower.send("PATCH", path, body, headers={"If_Match": tag}).status_code == 200:
            self.diary.system_of[self.diary.act()][tub] = system

    def use(self, net: str, tub: str) -> None:
        self.api.grower.made(f"/tools/{self.ids[net]}/uses", {"tub_id": self.ids[tub]})
        self.diary.uses.append((net, tub, self.diary.act()))

    def wash(self, net: str, *, hot: bool) -> None:
        self.api.grower.made(f"/tools/{self.ids[net]}/disinfections", HOT if hot else BLEACH)
        moment = self.diary.act()
        if hot:
            self.diary.cleanings.append((net, moment))

    def sell(self, lot: str, customer: str, quantity: int = 2) -> None:
        """Written as a fact: a clearance takes weeks, and what matters here is who got what when."""
        with self.database.writing() as session:
            row = session.get_one(Lot, self.ids[lot])
            if row.left < quantity:
                return
            row.sold, row.left = row.sold + quantity, row.left - quantity
            now = datetime.now(UTC)
            sent = Dispatch(pack_check={}, order_ref=f"W-{customer}", customer_ref=customer)
            sent.at, sent.recorded_at, sent.by = now, now, "tests"
            session.add(sent)
            session.flush()
            session.add(DispatchLine(dispatch_id=sent.id, n=1, lot_id=self.ids[lot], quantity=quantity))
        self.diary.sales.append((lot, customer, self.diary.act()))

    def _try(self, path: str, body: Any) -> Any:
        answer = self.api.grower.post(path, body)
        assert answer.status_code in {201, 200, 409}, answer.get_json()
        return answer.get_json() if answer.status_code < 300 else None
