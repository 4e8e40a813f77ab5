"""What needs script: timers that a reload does not stop, and acts that wait for a signal."""

import time
from collections.abc import Callable
from pathlib import Path

from tests.api import Api
from tests.browser.conftest import Served
from tests.browser.hands import PHONE, opened
from tests.make_house import House
from tests.make_inspections import look
from tests.make_lots import received_lot
from tests.make_photos import encoded, half_and_half

TIMER = "document.querySelector('.timer').textContent"


def test_a_timer_runs_and_a_reload_does_not_stop_it(house: Served, busy_house: House) -> None:
    with opened(house.address, PHONE) as hands:
        hands.sign_in()
        hands.open(f"/console/treatments/{busy_house.soaking}")
        first = seconds(hands.driver.execute_script(f"return {TIMER}"))
        time.sleep(2)
        hands.driver.refresh()
        second = seconds(hands.driver.execute_script(f"return {TIMER}"))
        assert 1 <= first - second <= 30


def seconds(shown: str) -> int:
    sign = -1 if shown.startswith("+") else 1
    minutes, rest = shown.strip("+ over").split(":")
    return sign * (60 * int(minutes) + int(rest))


def test_what_is_done_without_signal_is_kept_shown_and_sent_once(
    house: Served, api: Api, busy_house: House
) -> None:
    tub = busy_house.tubs["T2"]
    before = changes(api, busy_house.waiting)
    with opened(house.address, PHONE) as hands:
        hands.sign_in()
        hands.driver.execute_async_script("navigator.serviceWorker.ready.then(arguments[0])")
        hands.open("/console/round")  # now kept at hand
        house.cut()
        hands.press("Done at T2")
        hands.until("not sent yet")
        assert changes(api, busy_house.waiting) == before
        hands.driver.refresh()
        hands.until("not sent yet")
        house.start()
        hands.open("/console/round")
        wait_until(lambda: changes(api, busy_house.waiting) == before + 1)
        hands.open("/console/round")
        wait_until(lambda: "not sent yet" not in hands.text())
    looks = api.grower.seen(f"/inspections?tub={tub}")["items"]
    assert [one["method"] for one in looks] == ["strain"]


def test_photos_without_signal_stay_in_their_form_which_says_so(
    house: Served, api: Api, tmp_path: Path
) -> None:
    lot = received_lot(api, hours=2)["id"]
    look(api, lot_id=lot, sample_size=40)
    (tmp_path / "eggs.jpg").write_bytes(encoded(half_and_half(400, 300)))
    with opened(house.address, PHONE) as hands:
        hands.sign_in()
        hands.driver.execute_async_script("navigator.serviceWorker.ready.then(arguments[0])")
        hands.open(f"/console/lots/{lot}")
        hands.unfold("Add photos")
        hands.attach("Photos", tmp_path / "eggs.jpg")
        hands.driver.set_network_conditions(offline=True, latency=0, throughput=0)
        hands.driver.find_element("xpath", "//button[.='Add them']").click()
        hands.until("There is no signal.")
        assert api.auditor.seen(f"/inspections?lot={lot}")["items"][0]["photos"] == []
        hands.driver.delete_network_conditions()
        hands.press("Add them")
    [photo] = api.auditor.seen(f"/inspections?lot={lot}")["items"][0]["photos"]
    assert (photo["width"], photo["height"]) == (400, 300)


def changes(api: Api, lot: str) -> int:
    history = api.grower.seen(f"/lots/{lot}/history?limit=200")["items"]
    return sum(entry["kind"] == "tub.water_changed" for entry in history)


def wait_until(holds: Callable[[], bool], seconds_: float = 30) -> None:
    deadline = time.monotonic() + seconds_
    while time.monotonic() < deadline:
        if holds():
            return
        time.sleep(0.3)
    raise AssertionError("It did not come to pass.")
