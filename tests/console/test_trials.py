"""A trial on the pages: laid out, looked at with the score card, read, learnt from and closed."""

import re
from typing import Any

from service.accounts.rules import Role
from service.core.db import Database
from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_people import Browser, a_person, shown_text
from tests.make_trials import Trying


def page_of(trying: Trying) -> str:
    return f"/console{trying.path}"


def planned(bench: Bench, **more: Any) -> dict[str, Any]:
    """What the form of a new trial sends."""
    sent = {
        "name": "eggs in autumn",
        "question": "Does alum kill egg masses?",
        "arm": ["alum-soak/1"],
        "control": "yes",
        "lot": [bench.lot("anubias-barteri", 40)["id"]],
        "tub": [bench.tub("X1", 20), bench.tub("X2", 20)],
        "target-0-pest": "bladder_snail",
        "target-0-stage": "adult",
        "units_per_arm": "6",
        "days": "7",
        "blind": "yes",
    }
    return {**sent, **more}


def test_a_trial_is_laid_out_and_looked_at(owner: Browser, api: Api, bench: Bench) -> None:
    sent = planned(bench)
    owner.seen("/console/trials/plan")
    page = owner.done("/console/trials/plan", sent)
    assert "Does alum kill egg masses?" in page
    [trial] = api.manager.seen("/trials")["items"]
    look = f"/console/trials/{trial['id']}/look?day=0"
    card = owner.seen(look)
    assert "firm, whole, in colour" in shown_text(card)
    label = re.findall(r'name="count-0-label" value="([^"]+)"', card)[0]
    count = {"label": label, "pest": "bladder_snail", "stage": "adult", "live": "2", "dead": "0"}
    unit = {"label": label, "fate": "alive", "leaves": "5", "roots": "4", "melt": "5", "new_growth": "3"}
    fields = {f"count-0-{name}": value for name, value in count.items()}
    fields |= {f"unit-0-{name}": value for name, value in unit.items()}
    owner.done(f"/console/trials/{trial['id']}/look", {"day": "0", **fields})
    [seen] = api.manager.seen(f"/trials/{trial['id']}/observations")["items"]
    assert seen["counts"][0]["live"] == 2
    assert seen["conditions"][0]["roots"] == 4
    assert seen["observer"] == "Ines"


def test_what_cannot_be_laid_out_says_why_and_keeps_what_was_ticked(owner: Browser, bench: Bench) -> None:
    sent = planned(bench, tub=[bench.tub("X9", 20)])
    owner.seen("/console/trials/plan")
    assert owner.refused("/console/trials/plan", sent) != []
    assert re.search(rf'value="{sent["lot"][0]}" checked', owner.page)
    assert 'value="eggs in autumn"' in owner.page


def test_shares_are_typed_in_per_cent(owner: Browser, api: Api, bench: Bench) -> None:
    owner.seen("/console/trials/plan")
    lots = [bench.lot("anubias-barteri", 400)["id"]]
    owner.done(
        "/console/trials/plan", planned(bench, lot=lots, units_per_arm="", treated="90", untreated="20")
    )
    [trial] = api.manager.seen("/trials")["items"]
    assert (trial["power"]["treated"], trial["power"]["control"]) == (0.9, 0.2)


def test_a_look_that_cannot_be_is_refused_and_what_was_typed_stays(
    owner: Browser, read_trial: Trying
) -> None:
    path = f"{page_of(read_trial)}/look"
    owner.seen(f"{path}?day=7")
    label = read_trial.labels("alum")[0]
    count = {"label": label, "pest": "bladder_snail", "stage": "adult", "live": "9"}
    assert owner.refused(path, {"day": "7", **{f"count-0-{n}": v for n, v in count.items()}}) != []


def test_a_dead_plant_has_no_scores(owner: Browser, api: Api, bench: Bench) -> None:
    trying = Trying(bench, day=40)
    trying.lay_out([{"code": "control"}, {"code": "alum", "protocol": "alum-soak", "version": 1}], days=7)
    path = f"{page_of(trying)}/look"
    owner.seen(f"{path}?day=0")
    unit = {"label": trying.labels()[0], "fate": "dead", "leaves": "5"}
    owner.done(path, {"day": "0", **{f"unit-0-{n}": v for n, v in unit.items()}})
    [seen] = api.manager.seen(f"{trying.path}/observations")["items"]
    assert seen["conditions"][0]["fate"] == "dead"
    assert seen["conditions"][0]["leaves"] is None


def test_the_result_is_shown_in_words_tables_and_curves(owner: Browser, read_trial: Trying) -> None:
    page = owner.seen(page_of(read_trial))
    text = shown_text(page)
    result = read_trial.result()
    assert all(told in text for told in result["verdict"] if "_" not in told)
    kill = next(row for row in result["kills"] if row["arm"] == "alum" and row["stage"] == "adult")
    assert f"{round(100 * kill['kill_proved'])} %" in text
    assert page.count('<svg class="plot"') == 2
    # Fresh masses of the control hatched, those of the soak did not: 100 % and 0 % on day 7.
    hatched = {row["arm"]: row["points"][-1]["hatched"] for row in result["hatching"]}
    assert hatched == {"alum": 0, "control": 6}


def test_the_result_is_a_file_for_a_spreadsheet(owner: Browser, read_trial: Trying) -> None:
    answer = owner.open(f"{page_of(read_trial)}/result.csv")
    assert answer.content_type == "text/csv; charset=utf-8"
    assert "attachment" in answer.headers["Content-Disposition"]
    assert "alum" in owner.page


def test_who_observes_blind_is_told_no_arm_and_no_result(
    database: Database, browser: Browser, read_trial: Trying
) -> None:
    a_person(database, "Tobi", Role.GROWER)
    browser.sign_in("Tobi")
    text = shown_text(browser.seen(page_of(read_trial)))
    assert "treatment not told: the trial is blind" in text
    assert "The trial is blind and open" in text
    assert "What it says" not in text
    assert browser.open(f"{page_of(read_trial)}/result.csv").status_code == 403


def test_a_closed_trial_is_learnt_from(owner: Browser, api: Api, read_trial: Trying) -> None:
    path = page_of(read_trial)
    assert "Take it over" not in owner.seen(path)  # blind and open: learning would tell the arms
    page = owner.done(f"{path}/close", {"conclusion": "Alum kills what it touches."})
    assert "Alum kills what it touches." in page
    assert owner.refused(f"{path}/close", {"conclusion": "again"}) != []
    assert owner.refused(f"{path}/adopt", {"arm": "nosuch", "reason": "seen"}) != []
    owner.seen(path)
    owner.done(f"{path}/adopt", {"arm": "alum", "reason": "seen with own eyes"})
    assert api.grower.seen("/protocols/alum-soak/versions/2")["version"] == 2


def test_a_wrong_look_is_void(owner: Browser, api: Api, read_trial: Trying) -> None:
    path = page_of(read_trial)
    owner.seen(path)
    last = api.manager.seen(f"{read_trial.path}/observations")["items"][-1]["id"]
    page = owner.done(f"{path}/observations/{last}/void", {"reason": "the wrong tub"})
    assert "void: the wrong tub" in shown_text(page)


def test_an_empty_house_says_what_a_trial_is(owner: Browser) -> None:
    assert "No trial was laid out yet." in shown_text(owner.seen("/console/trials"))
    assert "No tub is free." in shown_text(owner.seen("/console/trials/plan"))
