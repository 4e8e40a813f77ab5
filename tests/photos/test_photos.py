"""Photos over HTTP: sent once, named in looks, served so that they are only ever pictures."""

import hashlib
import os
from datetime import timedelta
from pathlib import Path

import pytest

from service.core.clock import utc_now
from service.core.db import Database
from service.core.settings import Settings
from service.photos.actions import lost_photos, sweep_photos
from service.photos.rules import LARGEST_BYTES
from tests.api import Api
from tests.make_inspections import look
from tests.make_lots import received_lot
from tests.make_photos import encoded, half_and_half, kept, png_of, sent

NONE = "ab" * 32


def files(settings: Settings) -> list[Path]:
    return sorted(file for file in settings.photos.rglob("*") if file.is_file())


def test_a_photo_is_kept_under_the_hash_of_what_is_kept(api: Api, settings: Settings) -> None:
    photo = kept(api)
    (file,) = files(settings)
    content = file.read_bytes()
    assert photo["sha256"] == hashlib.sha256(content).hexdigest() == file.stem
    assert (photo["bytes"], photo["width"], photo["height"]) == (len(content), 40, 20)
    assert file.stat().st_mode & 0o777 == 0o600
    shown = api.auditor.get(f"/photos/{photo['sha256']}")
    assert (shown.status_code, shown.get_data()) == (200, content)


def test_the_same_photo_twice_is_one(api: Api, settings: Settings) -> None:
    assert kept(api) == kept(api)
    assert len(files(settings)) == 1


def test_a_photo_is_served_as_a_picture_and_nothing_else(api: Api) -> None:
    photo = kept(api, encoded(half_and_half(), "PNG"))
    shown = api.grower.get(f"/photos/{photo['sha256']}")
    assert shown.headers["Content-Type"] == "image/png"
    assert shown.headers["X-Content-Type-Options"] == "nosniff"
    assert shown.headers["Content-Security-Policy"] == "default-src 'none'; sandbox; frame-ancestors 'none'"
    assert shown.headers["Cross-Origin-Resource-Policy"] == "same-origin"
    assert shown.headers["Content-Disposition"] == f'inline; filename="{photo["sha256"]}.png"'
    again = api.grower.get(f"/photos/{photo['sha256']}", If_None_Match=shown.headers["ETag"])
    assert again.status_code == 304
    small = api.grower.get(f"/photos/{photo['sha256']}?size=small")
    assert (small.status_code, small.headers["Content-Type"]) == (200, "image/jpeg")
    assert small.get_data() == api.grower.get(f"/photos/{photo['sha256']}?size=small").get_data()


@pytest.mark.parametrize(
    ("content", "media_type", "status", "kind"),
    [
        (b"GIF89a", "image/gif", 415, "unsupported-media-type"),
        (b"{}", "application/json", 415, "unsupported-media-type"),
        (b"<svg/>", "image/jpeg", 422, "no-photo"),
        (b"", "image/jpeg", 422, "no-photo"),
        (png_of(50_000, 50_000), "image/png", 422, "photo-too-large"),
        (bytes(LARGEST_BYTES + 1), "image/png", 413, "too-large"),
    ],
    ids=["gif", "json", "svg", "nothing", "bomb", "long"],
)
def test_what_is_no_photo_is_told_and_nothing_is_kept(
    api: Api, settings: Settings, content: bytes, media_type: str, status: int, kind: str
) -> None:
    response = sent(api, content, media_type)
    problem = response.get_json()
    assert (response.status_code, problem["type"]) == (status, f"/problems/{kind}")
    assert problem["detail"]
    assert files(settings) == []


def test_no_other_address_takes_so_much(api: Api) -> None:
    body = b'{"note": "' + bytes(3 * 1024 * 1024) + b'"}'
    assert api.grower.send("POST", "/inspections", raw=body).status_code == 413


@pytest.mark.parametrize("path", [NONE, "..%2f..%2fsecret.key", "secret.key"])
def test_what_is_not_kept_is_not_found(api: Api, path: str) -> None:
    assert api.grower.get(f"/photos/{path}").status_code == 404


def test_only_the_bench_sends_photos(api: Api) -> None:
    raw = encoded(half_and_half())
    for client, status in ((api.seller, 403), (api.auditor, 403), (api.nobody, 401)):
        response = client.send("POST", "/photos", headers={"Content-Type": "image/jpeg"}, raw=raw)
        assert response.status_code == status


def test_a_photo_sent_again_with_its_key_is_answered_again(api: Api) -> None:
    first, second = (sent(api, encoded(half_and_half()), Idempotency_Key="one") for _ in range(2))
    assert first.get_json() == second.get_json()
    assert second.headers["Idempotency-Replayed"] == "true"


def test_a_look_shows_its_photos_and_the_journal_names_them(api: Api) -> None:
    lot, photo = received_lot(api, hours=2), kept(api)
    made = look(api, lot_id=lot["id"], sample_size=40, photos=[{"sha256": photo["sha256"]}])
    assert made["photos"] == [photo]
    assert api.auditor.seen(f"/inspections?lot={lot['id']}")["items"] == [made]
    entry = api.auditor.seen(f"/lots/{lot['id']}/history")["items"][-1]
    assert entry["after"]["photos"] == [photo["sha256"]]


def test_a_photo_may_be_named_by_the_hash_of_the_file_that_was_sent(api: Api) -> None:
    lot, content = received_lot(api, hours=2), encoded(half_and_half(), comment=b"left")
    photo = kept(api, content)
    own = hashlib.sha256(content).hexdigest()
    assert own != photo["sha256"]
    made = look(api, lot_id=lot["id"], sample_size=40, photos=[{"sha256": own}])
    assert [one["sha256"] for one in made["photos"]] == [photo["sha256"]]


def test_a_photo_may_come_after_its_look_but_not_to_a_void_one(api: Api) -> None:
    lot, photo = received_lot(api, hours=2), kept(api)
    made = look(api, lot_id=lot["id"], sample_size=40)
    path, body = f"/inspections/{made['id']}/photos", {"photos": [{"sha256": photo["sha256"]}]}
    assert api.grower.made(path, body)["photos"] == [photo]
    assert api.grower.made(path, body)["photos"] == [photo]  # once
    api.grower.made(f"/inspections/{made['id']}/void", {"reason": "the wrong lot"})
    refused = api.grower.post(path, body)
    assert (refused.status_code, refused.get_json()["type"]) == (409, "/problems/already-voided")


def test_a_photo_nobody_sent_is_no_photo_of_a_look(api: Api) -> None:
    lot = received_lot(api, hours=2)
    body = {"lot_id": lot["id"], "sample_size": 40, "findings": [], "photos": [{"sha256": NONE}]}
    refused = api.grower.post("/inspections", body)
    assert (refused.status_code, refused.get_json()["errors"][0]["pointer"]) == (422, "#/photos/0")
    assert api.auditor.seen(f"/inspections?lot={lot['id']}")["items"] == []


def test_a_look_has_at_most_twenty_photos(api: Api) -> None:
    lot = received_lot(api, hours=2)
    made = look(api, lot_id=lot["id"], sample_size=40)
    shots = [kept(api, encoded(half_and_half(40 + n, 20)))["sha256"] for n in range(21)]
    path = f"/inspections/{made['id']}/photos"
    api.grower.made(path, {"photos": [{"sha256": sha256} for sha256 in shots[:20]]})
    refused = api.grower.post(path, {"photos": [{"sha256": shots[20]}]})
    assert (refused.status_code, refused.get_json()["type"]) == (409, "/problems/too-many-photos")


def test_what_no_look_names_goes_after_a_week_and_its_file_the_night_after(
    api: Api, database: Database, settings: Settings
) -> None:
    lot, used = received_lot(api, hours=2), kept(api)
    look(api, lot_id=lot["id"], sample_size=40, photos=[{"sha256": used["sha256"]}])
    lone = kept(api, encoded(half_and_half(60, 20)))
    half_written = settings.photos / "cd" / f"{'cd' * 32}.jpg"
    half_written.parent.mkdir()
    half_written.write_bytes(b"of an act that was not kept")
    foreign = settings.photos / "notes.txt"
    foreign.write_text("the nursery's own")

    def night(days: float) -> None:
        with database.writing() as session:
            sweep_photos(session, {}, utc_now() + timedelta(days=days))

    night(0.5)
    assert half_written.exists()  # its act may still be running
    night(6)
    assert not half_written.exists()
    assert api.grower.get(f"/photos/{lone['sha256']}").status_code == 200
    night(8)
    assert api.grower.get(f"/photos/{lone['sha256']}").status_code == 404
    night(9)
    assert {file.stem for file in files(settings)} == {used["sha256"], "notes"}
    assert api.grower.get(f"/photos/{used['sha256']}").status_code == 200


def test_a_lost_or_altered_file_is_told_and_never_shown(
    api: Api, database: Database, settings: Settings
) -> None:
    photo, other = kept(api), kept(api, encoded(half_and_half(60, 20)))
    for sha256, content in ((photo["sha256"], None), (other["sha256"], b"another picture")):
        file = settings.photos / sha256[:2] / f"{sha256}.jpg"
        file.unlink() if content is None else file.write_bytes(content)
        answer = api.grower.get(f"/photos/{sha256}")
        assert answer.status_code == 404
        assert "lost or altered" in answer.get_json()["detail"]
    with database.reading() as session:
        assert lost_photos(session) == [photo["sha256"], other["sha256"]]
    kept(api)  # sent again, it is there again
    assert os.path.getsize(settings.photos / photo["sha256"][:2] / f"{photo['sha256']}.jpg") == photo["bytes"]
