"""A trial's result over HTTP: read, kept from blind observers, adopted once, told as a file."""

import io
from datetime import datetime, timedelta
from typing import Any

import pytest
from pypdf import PdfReader

from service.core.db import Database
from service.protocols.schemas import CreditForm
from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_trials import ALUM, CONTROL, EGG, Trying, condition, masses, snails
from tests.unchanged import unchanged


@pytest.fixture
def trying(api: Api) -> Trying:
    """Alum against a control, one tub each, read on day 7: six units with two snails and an egg mass."""
    found = Trying(Bench(api))
    found.bench.batch("potassium-alum", 5000, "g", cost={"value": "10.00", "currency": "EUR"})
    found.lay_out([ALUM, CONTROL], units=6, days=7)
    return found


def seen(trying: Trying, day: int, alum: Any, control: Any, **more: Any) -> None:
    rows = [(label, alum) for label in trying.labels("alum")]
    rows += [(label, control) for label in trying.labels("control")]
    counts = [count for label, (live, mass) in rows for count in (snails(label, live), masses(label, **mass))]
    trying.look(day, counts=counts, conditions=[condition(label) for label, _ in rows], **more)


def carried_out(trying: Trying, **more: Any) -> None:
    seen(trying, 0, (2, {"clear": 1}), (2, {"clear": 1}))
    steps = trying.bench.api.grower.seen("/protocols/alum-soak/versions/1")["content"]["steps"]
    trying.treat("alum", "alum-soak", 1.1, [step["duration"]["target_s"] / 3600 for step in steps])
    seen(trying, 7, (0, {"white": 1}), (2, {"hatched": 1}), **more)


def closed(trying: Trying) -> None:
    trying.bench.api.manager.made(f"{trying.path}/close", {"conclusion": "Alum.", **trying.bench.when(9)})


def adopted(trying: Trying, **more: Any) -> Any:
    body = {"arm": "alum", "reason": "seen with own eyes", **more}
    return trying.bench.api.manager.post(f"{trying.path}/adoption", body)


def test_a_result_gives_its_numbers_and_says_what_it_cannot(trying: Trying) -> None:
    laid = datetime.fromisoformat(trying.trial["starts_at"])
    hatch = {
        "label": trying.labels("control")[0],
        "pest": "bladder_snail",
        "laid_at": laid.isoformat(),
        "hatched_at": (laid + timedelta(days=7)).isoformat(),
    }
    carried_out(trying, hatches=[hatch], dummies=[{"hidden": 10, "found": 8}], observer="R. Grower")
    result = trying.result()
    kills = {(row["arm"], row["stage"]): row for row in result["kills"]}
    assert (kills["alum", "egg"]["before"], kills["alum", "egg"]["after"]) == (6, 0)
    assert kills["alum", "egg"]["corrected_kill"]["estimate"] == 1
    assert kills["alum", "egg"]["kill_proved"] == pytest.approx(0.05 ** (1 / 6))
    assert kills["control", "adult"]["why_not"] == "This is the control."
    assert [row["arms"] for row in result["best"]] == [["alum"], ["alum"]]
    told = " ".join(result["cannot_say"])
    assert "One tub an arm" in told
    assert "Without a temperature log" in told
    assert {row["tolerance"]["level"] for row in result["plants"] if row["tolerance"]} == {"caution"}
    methods = {row["arm"]: row for row in result["methods"]}
    assert methods["alum"]["cost"]["currency"] == "EUR"
    per_unit = float(methods["alum"]["cost_per_unit"]["value"])
    assert per_unit == pytest.approx(float(methods["alum"]["cost"]["value"]) / 6, abs=1e-4)
    assert methods["alum"]["minutes_per_unit"] == pytest.approx(methods["alum"]["minutes"] / 6)
    assert methods["alum"]["cautions"]
    assert result["eyes"][0]["sensitivity"]["estimate"] == 0.8
    assert "No untreated mass" in result["development"][0]["why_not"]


def test_who_observes_blind_reads_the_result_when_the_trial_is_closed(trying: Trying) -> None:
    assert trying.bench.api.grower.get(f"{trying.path}/result").status_code == 403
    assert trying.bench.api.grower.get(f"{trying.path}/report.pdf").status_code == 403
    closed(trying)
    assert trying.bench.api.grower.seen(f"{trying.path}/result")["kills"] == []
    assert trying.bench.api.grower.get(f"{trying.path}/report.pdf").status_code == 200


def test_a_result_is_learnt_from_once_and_old_versions_stay(trying: Trying, database: Database) -> None:
    carried_out(trying)
    manager = trying.bench.api.manager
    with unchanged(database):
        assert adopted(trying).get_json()["reasons"][0]["code"] == "trial-open"
    closed(trying)
    before = manager.seen("/protocols/alum-soak/versions/1")
    plant = trying.result()["plants"][0]["plant_id"]
    tolerances = [{"plant_id": plant, "level": "avoid"}]
    answer = adopted(trying, stages=[EGG], tolerances=tolerances)
    assert answer.status_code == 201, answer.get_json()
    [credit] = answer.get_json()["credits"]
    assert (credit["stage"], credit["trial_grade"]) == ("egg", "C")
    assert credit["low"] < credit["kill"] < credit["high"]
    assert manager.seen("/protocols/alum-soak/versions/1") == before
    content = manager.seen(f"/protocols/alum-soak/versions/{answer.get_json()['version']}")["content"]
    [written] = [c for c in content["credits"] if (c["pest"], c["stage"]) == ("bladder_snail", "egg")]
    assert written["kill"] == pytest.approx(credit["kill"], abs=1e-4)
    assert CreditForm().load(written) == written  # so that a later version can say the same
    assert len(content["credits"]) == len(before["content"]["credits"])
    tolerance = manager.seen(f"/plants/{plant}")["tolerances"]["alum_soak"]
    assert tolerance["level"] == "avoid"
    assert "The trial says caution" in tolerance["source"]
    with unchanged(database):
        assert adopted(trying).get_json()["reasons"][0]["code"] == "adopted-already"
    assert (
        trying.bench.api.grower.post(f"{trying.path}/adoption", {"arm": "alum", "reason": "x"}).status_code
        == 403
    )


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"arm": "salt"}, "#/arm"),
        ({"stages": [{"pest": "hydra", "stage": "adult"}]}, "#/stages/0"),
        ({"tolerances": [{"plant_id": "00000000-0000-7000-8000-000000000000"}]}, "#/tolerances/0/plant_id"),
    ],
)
def test_what_the_trial_did_not_show_is_not_learnt(
    trying: Trying, database: Database, body: dict[str, Any], pointer: str
) -> None:
    carried_out(trying)
    closed(trying)
    with unchanged(database):
        answer = adopted(trying, **body)
    assert (answer.status_code, answer.get_json()["errors"][0]["pointer"]) == (422, pointer)


def test_nothing_is_learnt_of_the_control_or_from_nothing(trying: Trying) -> None:
    closed(trying)
    assert adopted(trying, arm="control").get_json()["reasons"][0]["code"] == "control-arm"
    assert adopted(trying).get_json()["reasons"][0]["code"] == "nothing-observed"


def test_the_report_holds_method_data_and_cautions_and_the_files_their_rows(trying: Trying) -> None:
    carried_out(trying)
    answer = trying.bench.api.manager.get(f"{trying.path}/report.pdf")
    assert answer.mimetype == "application/pdf"
    pages = PdfReader(io.BytesIO(answer.data)).pages
    text = " ".join(" ".join(page.extract_text() for page in pages).split())
    for words in (
        trying.trial["question"],
        "seed 7",
        "no official document",
        "Cautions",
        "untreated control",
    ):
        assert words in text
    rows = trying.bench.api.manager.get(f"{trying.path}/result", Accept="text/csv").get_data(as_text=True)
    assert rows.splitlines()[0].startswith("table,")
    assert "kill,bladder_snail,egg,alum" in rows
    data = trying.bench.api.manager.get(f"{trying.path}/observations", Accept="text/csv").get_data(
        as_text=True
    )
    assert len(data.splitlines()) == 3
