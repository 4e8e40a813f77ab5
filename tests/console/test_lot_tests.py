"""What is tried on a few of a lot, on its page: trial stems with their days, animals in soak water."""

from datetime import timedelta

from service.accounts.rules import Role
from service.core.clock import utc_now
from service.core.db import Database
from tests.api import Api
from tests.make_house import House
from tests.make_lots import received_lot
from tests.make_people import Browser, a_person, shown_text


def days_ago(days: float) -> str:
    """As a form has it: a local time of the nursery, here UTC."""
    return f"{utc_now() - timedelta(days=days):%Y-%m-%dT%H:%M}"


def told(page: str) -> str:
    return " ".join(shown_text(page).split())


def late(days: float) -> dict[str, str]:
    return {"at": days_ago(days), "late_reason": "from the notebook"}


def test_stems_are_tried_and_judged_on_their_days(owner: Browser, api: Api, house: House) -> None:
    path = f"/console/lots/{house.waiting}/tests"
    owner.seen(path)
    owner.done(f"{path}/stems", {"protocol": "bleach-dip/1", "stems": "2", **late(8)})
    [trial] = api.grower.seen(f"/lots/{house.waiting}/trial-stems")["items"]
    assert "judge on day 2" in told(owner.page)
    judge = f"{path}/stems/{trial['id']}"
    assert "At most 2 were alive." in owner.refused(judge, {"alive": "3", **late(6)})[0]
    owner.done(judge, {"alive": "2", "judged_note": "a little pale", **late(5)})
    text = told(owner.page)
    assert "judge on day 7" in text
    assert "2 of 2 alive a little pale" in text
    assert "1 died" in told(owner.done(judge, {"alive": "1"}))
    assert "How many live" not in owner.page


def test_more_than_a_tenth_is_not_tried(owner: Browser, house: House) -> None:
    path = f"/console/lots/{house.waiting}/tests"
    owner.seen(path)
    assert "At most a tenth" in owner.refused(f"{path}/stems", {"protocol": "bleach-dip/1", "stems": "3"})[0]
    assert owner.refused(f"{path}/stems", {"protocol": "bleach-dip/x", "stems": "2"})
    assert owner.refused(f"{path}/stems", {"stems": "2"})


def test_the_sheet_and_the_round_lead_there(owner: Browser, api: Api, house: House) -> None:
    path = f"/console/lots/{house.fresh}/tests"
    tub = house.bench.tub("T20")
    asked = f"protocol=alum-soak&version=1&lot={house.fresh}&tub={tub}&litres=40&litres_unit=L"
    assert f"{path}?protocol=alum-soak/1" in owner.seen(f"/console/mix/sheet?{asked}")
    page = owner.seen(f"{path}?protocol=alum-soak/1")
    assert '<option value="alum-soak/1" selected>' in page
    owner.done(f"{path}/stems", {"protocol": "alum-soak/1", "stems": "4"})
    [work] = api.grower.seen("/due-work?kind=judge_stems")["items"]
    assert "POST" not in work["detail"]
    assert path in owner.seen("/console/round?kind=judge_stems")


def test_animals_in_soak_water_are_counted(owner: Browser, api: Api, house: House) -> None:
    path = f"/console/lots/{house.waiting}/tests"
    owner.seen(path)
    sent = {"animal": "shrimp", "animals": "5", "animals_alive": "5", "started_at": days_ago(4)}
    assert "5 of 5 shrimp alive" in told(owner.done(f"{path}/animals", sent))
    died = {**sent, "animal": "water_flea", "animals": "10", "animals_alive": "7", "animals_note": "slow"}
    assert "some died" in told(owner.done(f"{path}/animals", died))
    assert [one["alive"] for one in api.grower.seen(f"/lots/{house.waiting}/animal-tests")["items"]] == [5, 7]
    wrong = owner.refused(f"{path}/animals", {**sent, "animals_alive": "6"})
    assert "Only 5 were put in." in wrong[0]
    assert 'value="6"' in owner.page


def test_who_only_reads_is_shown_no_form(api: Api, database: Database, browser: Browser) -> None:
    lot = received_lot(api, hours=100)["id"]
    began = {"started_at": f"{days_ago(4)}:00Z"}
    api.grower.made(f"/lots/{lot}/animal-tests", {"animal": "shrimp", "animals": 5, "alive": 5, **began})
    a_person(database, "Ada", Role.AUDITOR)
    browser.sign_in("Ada")
    page = browser.seen(f"/console/lots/{lot}/tests")
    assert "5 of 5 shrimp alive" in told(page)
    assert "<form" not in page
