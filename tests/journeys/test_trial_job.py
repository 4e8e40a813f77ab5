"""A trial of three treatments and a control on two plants over 30 days, from the plan to what was learnt."""

import io
from typing import Any

import pytest
from pypdf import PdfReader

from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_trials import ALUM, BLEACH, CONTROL, PLANTS, Trying, condition, masses, snails

PEROXIDE = {"code": "peroxide", "protocol": "peroxide-dip", "version": 1}
ARMS: list[dict[str, Any]] = [ALUM, BLEACH, PEROXIDE, CONTROL]
PROTOCOLS = {"alum": "alum-soak", "bleach": "bleach-dip", "peroxide": "peroxide-dip"}
DAYS = (0, 3, 7, 10, 14, 17, 21, 24, 28, 30)
# What the invented animals do: living adults of 2 a unit after the dip, and whether a unit's mass hatches.
LEFT = {"alum": (0, 0, 0, 1), "bleach": (0, 0, 1, 0), "peroxide": (1, 2, 2, 1), "control": (2, 2, 2, 2)}
HATCHES = {
    "alum": (False,) * 4,
    "bleach": (True, True, False, True),
    "peroxide": (True,) * 4,
    "control": (True,) * 4,
}


class Story:
    """The trial as its people live it."""

    def __init__(self, api: Api) -> None:
        self.bench = Bench(api, age=45)
        self.trying = Trying(self.bench)
        cost = {"cost": {"value": "12.00", "currency": "EUR"}}
        strength = {"strength": {"value": 8.25, "basis": "naocl_ww"}, "made_on": str(self.bench.start.date())}
        self.bench.batch("potassium-alum", 20_000, "g", **cost)
        self.bench.batch("bleach", 30, "L", **cost, **strength)
        self.bench.batch("hydrogen-peroxide", 60, "L", **cost)
        self.bench.batch("thiosulfate", 5000, "g", **cost)
        self.trial = self.trying.lay_out(
            ARMS, tubs=8, units=8, plants=PLANTS, power={"treated": 0.9, "control": 0.1}, days=30
        )
        self.arm_of = {
            unit["label"]: tub["arm"]
            for unit in self.trial["units"]
            for tub in self.trial["tubs"]
            if tub["label"] == unit["tub"]
        }

    @property
    def lost(self) -> int:
        """Units that the bleach will kill."""
        return sum(arm == "bleach" and n % 2 for n, arm in enumerate(self.arm_of.values()))

    def carry_out(self) -> None:
        """Day 0 before anything is done, then each arm's protocol, then nine looks."""
        self.observe(0)
        for arm, protocol in PROTOCOLS.items():
            steps = self.bench.api.grower.seen(f"/protocols/{protocol}/versions/1")["content"]["steps"]
            hours = [step["duration"]["target_s"] / 3600 for step in steps]
            self.trying.treat(arm, protocol, self.trying.day + 0.1, hours)
        for tub in self.trial["tubs"]:
            self.bench.logger(tub["tub_id"], 1, 32, 24)
        for day in DAYS[1:]:
            self.observe(day)

    def observe(self, day: int) -> None:
        counts: list[Any] = []
        conditions: list[Any] = []
        for n, (label, arm) in enumerate(self.arm_of.items()):
            counts += [self.snails(day, n, label, arm), self.masses(day, n, label, arm)]
            conditions.append(self.condition(day, n, label, arm))
        self.trying.look(day, counts=counts, conditions=conditions, observer="R. Grower")

    def snails(self, day: int, n: int, label: str, arm: str) -> Any:
        left = LEFT[arm][n % 4]
        return snails(label, 2) if day == 0 else snails(label, left, 2 - left if day == 3 else 0)

    def masses(self, day: int, n: int, label: str, arm: str) -> Any:
        if day < 10:
            return masses(label, clear=1)
        if HATCHES[arm][n % 4]:
            return masses(label, hatched=1)
        return masses(label, white=1)

    def condition(self, day: int, n: int, label: str, arm: str) -> Any:
        if arm == "bleach" and n % 2 and day >= 7:
            none = dict.fromkeys(("leaves", "roots", "melt", "new_growth"))
            return condition(label, fate="dead", **none)
        points = 4 if arm == "bleach" and day else 5
        return condition(label, leaves=points, melt=points)


@pytest.fixture
def story(api: Api) -> Story:
    return Story(api)


def test_a_trial_is_planned_carried_out_read_adopted_and_reported(story: Story) -> None:
    manager, trying = story.bench.api.manager, story.trying
    assert story.trial["units_needed"] <= 16
    story.carry_out()

    assert {look["state"] for look in manager.seen(trying.path)["schedule"]} == {"done"}
    assert story.bench.api.grower.get(f"{trying.path}/result").status_code == 403
    result = trying.result()
    kills = {(row["arm"], row["stage"]): row for row in result["kills"]}
    adult, egg = kills["alum", "adult"], kills["alum", "egg"]
    assert (egg["before"], egg["after"], kills["control", "egg"]["after"]) == (16, 0, 16)
    assert egg["corrected_kill"]["estimate"] == 1
    assert adult["corrected_kill"]["estimate"] == pytest.approx(1 - adult["after"] / 32)
    assert next(row for row in result["best"] if row["of"].endswith("egg"))["arms"] == ["alum"]
    assert any("alum: 0 of 16 egg masses of bladder snail hatched" in words for words in result["verdict"])
    assert "Without a temperature log" not in " ".join(result["cannot_say"])
    hatch = {row["arm"]: row["points"] for row in result["hatching"]}
    assert hatch["control"][-1]["fresh"] > 0.99
    plants = {(row["arm"], row["plant"]): row for row in result["plants"]}
    assert sum(row["dead"] for (arm, _), row in plants.items() if arm == "bleach") == story.lost
    assert {row["tolerance"]["level"] for (arm, _), row in plants.items() if arm == "bleach"} <= {
        "avoid",
        "caution",
    }
    methods = {row["arm"]: row for row in result["methods"]}
    assert float(methods["alum"]["cost"]["value"]) > 0
    assert methods["control"]["minutes"] == 0
    assert any("acid" in words.lower() for words in methods["bleach"]["cautions"])

    blind = manager.post(f"{trying.path}/adoption", {"arm": "alum", "reason": "it works"})
    assert (blind.status_code, blind.get_json()["reasons"][0]["code"]) == (409, "trial-open")
    manager.made(f"{trying.path}/close", {"conclusion": "Alum it is.", **story.bench.when(32)})
    assert story.bench.api.grower.get(f"{trying.path}/result").status_code == 200
    adopted = adopt(story, plants)

    report(story, adopted)
    for unit in story.trial["units"]:
        assert story.bench.see(unit["lot_id"])["holds"] == []
    assert story.bench.api.auditor.seen("/audit/check")["intact"] is True


def adopt(story: Story, plants: Any) -> Any:
    manager, path = story.bench.api.manager, story.trying.path
    before = manager.seen("/protocols/alum-soak/versions/1")
    anubias = plants["alum", "Anubias barteri"]["plant_id"]
    body = {"arm": "alum", "reason": "Eggs stay white.", "tolerances": [{"plant_id": anubias}]}
    assert story.bench.api.grower.post(f"{path}/adoption", body).status_code == 403
    adopted = manager.made(f"{path}/adoption", body)
    assert adopted["version"] == 2
    assert manager.seen("/protocols/alum-soak/versions/1") == before
    after = manager.seen("/protocols/alum-soak/versions/2")["content"]
    assert after["steps"] == before["content"]["steps"]
    [credit] = [c for c in after["credits"] if (c["pest"], c["stage"]) == ("bladder_snail", "egg")]
    # Beta: 16 of 16 killed on top of what was credited before.
    [old] = [c for c in before["content"]["credits"] if (c["pest"], c["stage"]) == ("bladder_snail", "egg")]
    assert credit["kill"] > old["kill"]
    assert credit["beta"]["killed"] >= 16
    assert "Own trial" in credit["source"]
    tolerance = manager.seen(f"/plants/{anubias}")["tolerances"]["alum_soak"]
    assert tolerance["grade"] == "own trial"
    again = manager.post(f"{path}/adoption", body)
    assert (again.status_code, again.get_json()["reasons"][0]["code"]) == (409, "adopted-already")
    refused = manager.post(f"{path}/adoption", {"arm": "control", "reason": "none"})
    assert refused.get_json()["reasons"][0]["code"] == "control-arm"
    return adopted


def report(story: Story, adopted: Any) -> None:
    answer = story.bench.api.manager.get(f"{story.trying.path}/report.pdf")
    assert answer.status_code == 200
    assert answer.mimetype == "application/pdf"
    text = " ".join(
        " ".join(page.extract_text() for page in PdfReader(io.BytesIO(answer.data)).pages).split()
    )
    for words in (
        story.trial["question"],
        "Alum it is.",
        "no official document",
        "Cautions",
        "Henderson and Tilton",
        "seed 7",
    ):
        assert words in text
    assert str(adopted["credits"][0]["grade"]) in "ABCD"
    rows = story.bench.api.manager.get(f"{story.trying.path}/result", Accept="text/csv").get_data(
        as_text=True
    )
    assert rows.splitlines()[0].startswith("table,")
    assert "kill,bladder_snail,egg,alum" in rows
    data = story.bench.api.manager.get(f"{story.trying.path}/observations?limit=200", Accept="text/csv")
    assert len(data.get_data(as_text=True).splitlines()) == 1 + len(DAYS)
