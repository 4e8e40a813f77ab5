"""A trial is looked at: what is seen is kept, is also a find in the lots, and what cannot be is refused."""

import hashlib
from typing import Any

import pytest

from service.core.db import Database
from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_photos import encoded, half_and_half, kept
from tests.make_trials import ALUM, CONTROL, Trying, condition, masses, snails
from tests.unchanged import unchanged


@pytest.fixture
def trying(api: Api) -> Trying:
    found = Trying(Bench(api))
    found.bench.batch("potassium-alum", 5000, "g")
    found.lay_out([ALUM, CONTROL])
    return found


def soaked(trying: Trying) -> None:
    trying.look(0, counts=[snails(label, 3) for label in trying.labels()])
    trying.treat("alum", "alum-soak", 1.1, [0.1, 48, 0.02, 0.02])


def code(found: tuple[int, Any]) -> tuple[int, str]:
    return found[0], found[1]["errors"][0]["pointer"]


def test_what_is_seen_is_kept_and_is_a_find_in_its_lots(trying: Trying) -> None:
    [one, *others] = trying.labels("control")
    counts = [snails(one, 2, 1), masses(one, clear=1, white=1)]
    seen = trying.look(0, counts=counts, conditions=[condition(label) for label in others], note="calm")
    assert seen["counts"][0]["live"] == 2
    [lot] = {unit["lot_id"] for unit in trying.trial["units"] if unit["label"] == one}
    [look] = trying.bench.api.grower.seen(f"/inspections?lot={lot}")["items"]
    assert (look["sample_size"], look["full"]) == (4, True)
    assert [(f["stage"], f["live"], f["dead"]) for f in look["findings"]] == [("adult", 2, 1), ("egg", 1, 1)]
    history = trying.bench.api.auditor.seen(f"/lots/{lot}/history?limit=200")["items"]
    assert "inspection.found_live" in {item["kind"] for item in history}
    [listed] = trying.bench.api.grower.seen(f"{trying.path}/observations?day=0")["items"]
    assert listed == seen


def test_what_is_off_the_plants_is_counted_at_the_tub(trying: Trying) -> None:
    [tub] = trying.tubs_of("control")
    trying.look(0, counts=[snails(tub["label"], 1)])
    [look] = trying.bench.api.grower.seen(f"/inspections?tub={tub['tub_id']}")["items"]
    assert (look["tub_id"], look["findings"][0]["live"]) == (tub["tub_id"], 1)


def test_an_observation_before_the_treatment_changes_nothing(trying: Trying, database: Database) -> None:
    with unchanged(database):
        found = trying.refused(3, counts=[snails(trying.labels("alum")[0], 1)])
    assert code(found) == (422, "#/at")


def test_more_dead_than_there_were_changes_nothing(trying: Trying, database: Database) -> None:
    soaked(trying)
    with unchanged(database):
        found = trying.refused(3, counts=[snails(trying.labels("alum")[0], 0, 4)])
    assert code(found) == (422, "#/counts/0")
    assert "There were 3" in found[1]["detail"]


def test_the_schedule_is_owed_and_late_and_missed_looks_show(trying: Trying) -> None:
    trying.look(0, counts=[snails(label, 3) for label in trying.labels()])
    trying.look(3, counts=[snails(label, 3) for label in trying.labels("control")], late=1.5)
    states = {look["day"]: look["state"] for look in trying.bench.api.grower.seen(trying.path)["schedule"]}
    assert (states[0], states[3], states[7], states[28]) == ("done", "late", "missed", "missed")


def test_what_is_due_today_is_due_work(api: Api) -> None:
    young = Trying(Bench(api, age=4), day=0)
    young.lay_out([ALUM, CONTROL])
    due = api.grower.seen("/due-work?kind=observe")["items"]
    assert [item["title"].split(", ")[-1] for item in due] == ["day 0", "day 3", "day 7"]
    assert [item["overdue"] for item in due] == [True, True, False]
    assert "Nobody entered it in time" in due[0]["detail"]
    assert len(due[0]["lots"]) == 2


def test_a_missed_look_is_owed_until_a_later_one_is_entered(api: Api) -> None:
    young = Trying(Bench(api, age=8), day=0)
    young.lay_out([ALUM, CONTROL])
    young.look(0, counts=[snails(label, 3) for label in young.labels()])

    def owed() -> list[str]:
        items = api.grower.seen("/due-work?kind=observe")["items"]
        return [item["title"].split(", ")[-1] for item in items]

    assert owed() == ["day 3", "day 7", "day 10"]
    young.look(7, counts=[snails(label, 3) for label in young.labels("control")])
    assert owed() == ["day 10"]
    schedule = {look["day"]: look["state"] for look in api.grower.seen(young.path)["schedule"]}
    assert (schedule[3], schedule[7]) == ("missed", "done")


def test_a_wrong_observation_is_voided_with_its_looks_and_entered_anew(trying: Trying) -> None:
    label = trying.labels("control")[0]
    seen = trying.look(0, counts=[snails(label, 9)])
    assert trying.refused(0, counts=[snails(label, 3)])[0] == 422
    path = f"{trying.path}/observations/{seen['id']}/void"
    voided = trying.bench.api.grower.made(path, {"reason": "another pot"})
    assert voided["void_reason"] == "another pot"
    look = trying.bench.api.grower.seen(f"/inspections/{seen['inspections'][0]}")
    assert look["void_reason"] == "another pot"
    trying.look(0, counts=[snails(label, 3)])
    assert trying.bench.api.grower.post(path, {"reason": "again"}).status_code == 409
    assert (
        trying.bench.api.grower.post(f"/trials/{trying.trial['id']}/observations/x/void", {}).status_code
        == 404
    )


def test_a_closed_trial_takes_no_more(trying: Trying, database: Database) -> None:
    seen = trying.look(0, counts=[snails(trying.labels()[0], 3)])
    trying.bench.api.manager.made(f"{trying.path}/close", {"conclusion": "enough", **trying.bench.when(2)})
    with unchanged(database):
        status, problem = trying.refused(3, counts=[snails(trying.labels()[0], 1)])
    assert (status, problem["current_state"]) == (409, "closed")
    path = f"{trying.path}/observations/{seen['id']}/void"
    assert trying.bench.api.grower.post(path, {"reason": "late"}).status_code == 409


def test_a_trial_is_not_closed_before_what_was_seen(trying: Trying) -> None:
    trying.look(0, counts=[snails(trying.labels()[0], 3)])
    body = {"conclusion": "enough", **trying.bench.when(0.5)}
    assert trying.bench.api.manager.post(f"{trying.path}/close", body).status_code == 422


def test_a_seller_does_not_observe(trying: Trying) -> None:
    body = trying.told(0, counts=[])
    assert trying.bench.api.seller.post(f"{trying.path}/observations", body).status_code == 403


def test_a_look_of_a_blind_trial_keeps_who_could_know_and_the_result_says_it(trying: Trying) -> None:
    one, other, *_ = trying.labels("control")
    trying.look(0, counts=[snails(label, 3) for label in trying.labels()])
    trying.treat("alum", "alum-soak", 1.1, [0.1, 48, 0.02, 0.02])
    [before] = trying.bench.api.grower.seen(f"{trying.path}/observations")["items"]
    assert before["could_know"] is None
    treated = trying.look(3, counts=[snails(one, 3)])
    assert treated["could_know"] == "the grower had a hand in treatments of it."
    assert trying.look(3, counts=[snails(other, 3)], observer="R. Grower")["could_know"] is None
    told = trying.told(3, counts=[snails(trying.labels("alum")[0], 0)])
    by_manager = trying.bench.api.manager.made(f"{trying.path}/observations", told)
    assert by_manager["could_know"] == "the manager may read the arms of blind trials."
    words = " ".join(trying.result()["cannot_say"])
    assert "2 of 4 looks were not blind" in words
    assert "named no arm to who looks" in words


def test_a_photo_is_told_by_name_and_digest_and_shown_with_its_look(trying: Trying) -> None:
    photo = {"label": trying.labels()[0], "file": "anubias left.JPG", "sha256": "0f" * 32}
    seen = trying.look(0, photos=[photo, {"file": "all.png", "sha256": "a1" * 32}])
    assert seen["photos"] == [photo, {"label": None, "file": "all.png", "sha256": "a1" * 32}]
    assert trying.bench.api.grower.seen(f"{trying.path}/observations")["items"] == [seen]


def test_a_photo_of_a_trial_that_was_sent_is_kept_and_shown(trying: Trying, api: Api) -> None:
    label, content = trying.labels()[0], encoded(half_and_half(), comment=b"left")
    photo = kept(api, content)
    told = {"label": label, "file": "left.jpg", "sha256": hashlib.sha256(content).hexdigest()}
    seen = trying.look(0, photos=[told, {"file": "all.png", "sha256": "a1" * 32}])
    assert seen["kept_photos"] == [{**photo, "label": label}]
    assert seen["photos"][0] == told  # what was told stays as it was told
    [listed] = api.auditor.seen(f"{trying.path}/observations")["items"]
    assert listed == seen


def test_a_wrong_photo_of_an_observation_is_void_where_it_was_wrong(trying: Trying, api: Api) -> None:
    one, other = trying.labels()[:2]
    photo = kept(api)
    named = [{"label": label, "file": "a.jpg", "sha256": photo["sha256"]} for label in (one, other)]
    seen = trying.look(0, photos=named)
    path = f"{trying.path}/observations/{seen['id']}/photos/{photo['sha256']}/void"
    told = api.grower.made(path, {"reason": "it shows the other", "label": other})
    assert [(row["label"], row["void_reason"]) for row in told["kept_photos"]] == [
        (one, None),
        (other, "it shows the other"),
    ]
    assert told["photos"] == seen["photos"]  # what was told stays as it was told
    again = api.grower.post(path, {"reason": "it shows the other", "label": other})
    assert (again.status_code, again.get_json()["type"]) == (409, "/problems/already-voided")


def test_a_photo_may_come_after_its_observation(trying: Trying, api: Api) -> None:
    photo, seen = kept(api), trying.look(0)
    path = f"{trying.path}/observations/{seen['id']}/photos"
    label = trying.labels()[0]
    added = api.grower.made(path, {"photos": [{"sha256": photo["sha256"], "label": label}]})
    assert added["kept_photos"] == [{**photo, "label": label}]
    for wrong, pointer in (({"label": "nobody"}, "#/photos/0/label"), ({"sha256": "ab" * 32}, "#/photos/0")):
        refused = api.grower.post(path, {"photos": [{"sha256": photo["sha256"], "label": label, **wrong}]})
        assert (refused.status_code, refused.get_json()["errors"][0]["pointer"]) == (422, pointer)
    api.grower.made(f"{trying.path}/observations/{seen['id']}/void", {"reason": "the wrong tub"})
    assert api.grower.post(path, {"photos": [{"sha256": photo["sha256"]}]}).status_code == 409


@pytest.mark.parametrize(
    ("change", "pointer"),
    [
        ({"file": "notes.txt"}, "#/photos/0/file"),
        ({"file": "../all.png"}, "#/photos/0/file"),
        ({"file": ".png"}, "#/photos/0/file"),
        ({"sha256": "a1"}, "#/photos/0/sha256"),
        ({"sha256": "g" * 64}, "#/photos/0/sha256"),
        ({"sha256": None}, "#/photos/0/sha256"),
        ({"label": "nobody"}, "#/photos/0/label"),
    ],
)
def test_a_photo_that_names_no_picture_is_refused(
    trying: Trying, database: Database, change: dict[str, Any], pointer: str
) -> None:
    with unchanged(database):
        found = trying.refused(0, photos=[{"file": "all.png", "sha256": "a1" * 32, **change}])
    assert code(found) == (422, pointer)
