"""Today's round: one tap writes down what hands did at a tub, at one or at several."""

import re
from html import unescape
from typing import Any

import pytest

from service.accounts.rules import Role
from service.core.db import Database
from tests.api import Api
from tests.make_house import House, a_house
from tests.make_people import Browser, a_person, problems, shown_text

ROUND = "/console/round"
DO = "/console/round/tubs"


def at(tub: str, **more: Any) -> dict[str, Any]:
    """What the form of a tub sends when nothing was unticked."""
    sent = {f"{tub}-change": "yes", f"{tub}-strain": "yes", f"{tub}-fraction": "1.0", f"{tub}-code": "T"}
    return {**sent, **{f"{tub}-{name}": value for name, value in more.items()}}


def changes(api: Api, tub: str, house: House) -> int:
    lot = house.waiting if tub == house.tubs["T2"] else api.grower.seen(f"/lots?tub={tub}")["items"][0]["id"]
    history = api.grower.seen(f"/lots/{lot}/history?limit=200")["items"]
    return sum(entry["kind"] == "tub.water_changed" for entry in history)


def test_one_tap_writes_temperature_strained_water_and_change(owner: Browser, api: Api, house: House) -> None:
    tub = house.tubs["T2"]
    owner.seen(ROUND)
    page = owner.done(DO, {"only": tub, **at(tub, temperature="22,5")})
    assert "Written down." in page
    assert changes(api, tub, house) == 1
    assert api.grower.seen(f"/inspections?tub={tub}")["items"][0]["method"] == "strain"
    since = house.bench.when(house.bench.age)["at"]
    assert api.grower.seen(f"/tubs/{tub}/temperatures?from={since}")["items"][-1]["value"] == 22.5


def test_the_dose_to_pour_is_what_the_act_will_draw(owner: Browser, api: Api, house: House) -> None:
    tub = house.tubs["T3"]
    told = re.search(r"pour ([\d.]+) mL of copper-stock", shown_text(owner.seen(ROUND)))
    assert told is not None
    before = api.grower.seen(f"/stock-batches/{house.batches['copper']}")["balance"]["value"]
    owner.done(DO, {"only": tub, **at(tub, redose="yes")})
    after = api.grower.seen(f"/stock-batches/{house.batches['copper']}")["balance"]["value"]
    assert float(before) - float(after) == float(told[1])


def test_showing_what_would_be_poured_draws_nothing(owner: Browser, api: Api, house: House) -> None:
    before = api.owner.seen("/audit/check")
    owner.seen(ROUND)
    owner.seen(f"/console/mix?lot={house.fresh}")
    assert api.owner.seen("/audit/check") == before


def test_several_tubs_at_once(owner: Browser, api: Api, house: House) -> None:
    two = [house.tubs["T2"], house.tubs["T3"]]
    owner.seen(ROUND)
    page = owner.done(DO, {"tick": two, **at(two[0]), **at(two[1], redose="yes")})
    assert "2 written down." in page
    assert [changes(api, tub, house) for tub in two] == [1, 1]


def test_a_form_sent_twice_does_it_once(owner: Browser, api: Api, house: House) -> None:
    tub = house.tubs["T2"]
    owner.seen(ROUND)
    sent = {"only": tub, "key": owner.hidden("key"), **at(tub)}
    assert [owner.send(DO, sent).status_code for _ in range(2)] == [303, 303]
    assert changes(api, tub, house) == 1


def test_what_was_unticked_is_not_written(owner: Browser, api: Api, house: House) -> None:
    tub = house.tubs["T2"]
    owner.seen(ROUND)
    owner.done(DO, {"only": tub, **at(tub, strain=None, temperature="22")})
    assert api.grower.seen(f"/inspections?tub={tub}")["items"] == []


def test_an_impossible_temperature_is_named_beside_its_tub(owner: Browser, api: Api, house: House) -> None:
    tub = house.tubs["T2"]
    owner.seen(ROUND)
    answer = owner.send(DO, {"only": tub, **at(tub, temperature="warm")})
    assert answer.status_code == 409
    assert problems(answer.get_data(as_text=True)) != []


@pytest.mark.usefixtures("house")
def test_nothing_ticked_says_so(owner: Browser) -> None:
    owner.seen(ROUND)
    answer = owner.send(DO)
    assert "Tick at least one tub." in answer.get_data(as_text=True)


def test_an_act_kept_without_signal_is_dated_when_it_was_done(owner: Browser, api: Api, house: House) -> None:
    tub = house.tubs["T2"]
    kept = house.bench.when(house.bench.age - 0.2)["at"]
    owner.seen(ROUND)
    owner.done(DO, {"only": tub, "kept_at": kept, **at(tub)})
    assert api.grower.seen(f"/inspections?tub={tub}")["items"][0]["at"] == kept


def test_a_step_is_ended_from_the_round_and_says_when_it_was_too_short(owner: Browser, api: Api) -> None:
    house = a_house(api)  # now, not within the hour: its soak began this minute
    owner.seen(ROUND)
    path = f"/console/round/steps/{house.soaking}/1/finish"
    refused = owner.send(path, {"code": "T10"})
    assert refused.status_code in {409, 422}
    assert problems(refused.get_data(as_text=True)) != []
    owner.done(path, {"code": "T10", "departure": "one pot only, washed in a minute"})
    assert api.grower.seen(f"/treatments/{house.soaking}")["steps"][0]["state"] == "done"


def test_it_is_filtered_by_tub_and_kind(owner: Browser, api: Api, house: House) -> None:
    page = owner.seen(f"{ROUND}?tub={house.tubs['T3']}&kind=water_change")
    assert "Tub T3" in unescape(page)
    assert "Done at T2" not in page
    assert "Done at T10" not in page


def test_an_auditor_sees_it_and_can_do_nothing(
    api: Api, database: Database, browser: Browser, house: House
) -> None:
    a_person(database, "Ada", Role.AUDITOR)
    browser.sign_in("Ada")
    page = browser.seen(ROUND)
    assert "Done at" not in page
    tub = house.tubs["T2"]
    answer = browser.send(DO, {"only": tub, **at(tub)})
    assert "The role auditor may not do this." in answer.get_data(as_text=True)
