"""Trials over HTTP, dated in the past; the true kill of each arm is known to the test alone."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

from tests.journeys.bench import Bench

ADULT = {"pest": "bladder_snail", "stage": "adult"}
EGG = {"pest": "bladder_snail", "stage": "egg"}
CONTROL = {"code": "control"}
ALUM = {"code": "alum", "protocol": "alum-soak", "version": 1}
BLEACH = {"code": "bleach", "protocol": "bleach-dip", "version": 1}
PLANTS = ("anubias-barteri", "leptochilus-pteropus")
WELL = {"leaves": 5, "roots": 5, "melt": 5, "new_growth": 5}


@dataclass
class Trying:
    """A trial at a bench: laid out on `day`, its labels known by arm as a manager knows them."""

    bench: Bench
    day: float = 1
    trial: Any = field(init=False, default=None)

    def lay_out(
        self,
        arms: Sequence[Mapping[str, Any]],
        *,
        tubs: int | None = None,
        units: int | None = 4,
        plants: Sequence[str] = PLANTS[:1],
        **more: Any,
    ) -> Any:
        """Plan the trial as the manager; `more` are members of the body."""
        many = len(arms) if tubs is None else tubs
        tub_ids = [self.bench.tub(f"X{n:02d}", 20) for n in range(1, many + 1)]
        lots = [self.bench.lot(plant, 200)["id"] for plant in plants]
        body = self.body(arms, tub_ids, lots, units=units, **more)
        self.trial = self.bench.api.manager.made("/trials", body)
        return self.trial

    def body(
        self, arms: Sequence[Mapping[str, Any]], tub_ids: Sequence[str], lots: Sequence[str], **more: Any
    ) -> dict[str, Any]:
        units = more.pop("units", 4)
        return {
            "name": "egg masses in spring",
            "question": "Which dip kills egg masses too, and what does it do to the plants?",
            "arms": list(arms),
            "tub_ids": list(tub_ids),
            "lot_ids": list(lots),
            "targets": [ADULT, EGG],
            "units_per_arm": units,
            "seed": 7,
            **self.bench.when(self.day),
            **more,
        }

    @property
    def path(self) -> str:
        return f"/trials/{self.trial['id']}"

    def tubs_of(self, arm: str) -> list[Any]:
        return [tub for tub in self.trial["tubs"] if tub["arm"] == arm]

    def labels(self, arm: str | None = None) -> list[str]:
        """The labels of the units, all or those of one arm."""
        tubs = {tub["label"] for tub in self.trial["tubs"] if arm is None or tub["arm"] == arm}
        return [unit["label"] for unit in self.trial["units"] if unit["tub"] in tubs]

    def lots_in(self, tub: str) -> list[str]:
        return list(dict.fromkeys(unit["lot_id"] for unit in self.trial["units"] if unit["tub"] == tub))

    def treat(self, arm: str, protocol: str, day: float, hours: Sequence[float]) -> None:
        """Carry an arm's protocol out in each of its tubs."""
        for tub in self.tubs_of(arm):
            lots = self.lots_in(tub["label"])
            self.bench.treat(protocol, tub["tub_id"], lots, day, list(hours))

    def told(self, day: int, **more: Any) -> dict[str, Any]:
        return {"day": day, **self.bench.when(self.day + day + more.pop("late", 0.01)), **more}

    def look(self, day: int, **more: Any) -> Any:
        """Enter what was seen on a day of the trial, as the grower."""
        return self.bench.api.grower.made(f"{self.path}/observations", self.told(day, **more))

    def refused(self, day: int, **more: Any) -> tuple[int, Any]:
        """Enter what cannot be: the status and the problem."""
        answer = self.bench.api.grower.post(f"{self.path}/observations", self.told(day, **more))
        return answer.status_code, answer.get_json()

    def result(self) -> Any:
        return self.bench.api.manager.seen(f"{self.path}/result")


def snails(label: str, live: int, dead: int = 0) -> dict[str, Any]:
    """Adults counted at a label."""
    return {"label": label, **ADULT, "live": live, "dead": dead}


def masses(label: str, clear: int = 0, cloudy: int = 0, white: int = 0, hatched: int = 0) -> dict[str, Any]:
    """Egg masses counted at a label."""
    return {"label": label, **EGG, "clear": clear, "cloudy": cloudy, "white": white, "hatched": hatched}


def condition(label: str, **more: Any) -> dict[str, Any]:
    """A unit in good condition, but for what is said."""
    return {"label": label, **WELL, **more}


def a_read_trial(bench: Bench, day: float = 1) -> Trying:
    """Alum against a control, one tub each, read on day 7: six units with two snails and an egg mass."""
    trying = Trying(bench, day)
    cost = {"value": "10.00", "currency": "EUR"}
    bench.batch("potassium-alum", 5000, "g", cost=cost, confirm_duplicate=True)
    trying.lay_out([ALUM, CONTROL], units=6, days=7)
    _both(trying, 0, (2, {"clear": 1}), (2, {"clear": 1}))
    steps = bench.api.grower.seen("/protocols/alum-soak/versions/1")["content"]["steps"]
    hours = [step["duration"]["target_s"] / 3600 for step in steps]
    trying.treat("alum", "alum-soak", day + 0.1, hours)
    _both(trying, 7, (0, {"white": 1}), (2, {"hatched": 1}))
    return trying


def _both(trying: Trying, day: int, alum: Any, control: Any) -> None:
    rows = [(label, alum) for label in trying.labels("alum")]
    rows += [(label, control) for label in trying.labels("control")]
    counts = [count for label, (live, mass) in rows for count in (snails(label, live), masses(label, **mass))]
    trying.look(day, counts=counts, conditions=[condition(label) for label, _ in rows])
