"""Photos from a form: sent with a look, shown beside it, as files that are only ever pictures."""

import io
from typing import Any

from service.core.db import Database
from tests.api import Api
from tests.make_inspections import look
from tests.make_lots import received_lot
from tests.make_people import ORIGIN, Browser
from tests.make_photos import encoded, half_and_half, png_of


def picture(content: bytes | None = None, name: str = "IMG_1.jpg") -> tuple[io.BytesIO, str]:
    return io.BytesIO(encoded(half_and_half()) if content is None else content), name


def looked_at(api: Api) -> tuple[str, str]:
    lot = received_lot(api, hours=2)
    return lot["id"], look(api, lot_id=lot["id"], sample_size=40)["id"]


def photos(api: Api, look_id: str) -> list[Any]:
    found: list[Any] = api.auditor.seen(f"/inspections/{look_id}")["photos"]
    return found


def test_photos_of_a_look_are_sent_shown_and_opened(owner: Browser, api: Api) -> None:
    lot, look_id = looked_at(api)
    owner.seen(f"/console/lots/{lot}")
    address = f"/console/lots/{lot}/looks/{look_id}/photos"
    assert f'action="{address}" enctype="multipart/form-data"' in owner.page
    second = picture(encoded(half_and_half(60, 20), "PNG"), "b.png")
    answer = owner.send(address, {"photo": [picture(), second]})
    assert (answer.status_code, answer.headers["Location"]) == (
        303,
        f"/console/lots/{lot}?done=yes#look-{look_id}",
    )
    kept = photos(api, look_id)
    assert [one["media_type"] for one in kept] == ["image/jpeg", "image/png"]
    page = owner.seen(f"/console/lots/{lot}")
    for one in kept:
        assert f'src="/console/photos/{one["sha256"]}?size=small"' in page
        shown = owner.client.get(f"/console/photos/{one['sha256']}", base_url=ORIGIN)
        assert shown.headers["Content-Type"] == one["media_type"]
        assert (
            shown.headers["Content-Security-Policy"] == "default-src 'none'; sandbox; frame-ancestors 'none'"
        )
        assert shown.headers["Cache-Control"] == "no-store"


def test_a_form_sent_twice_adds_its_photos_once(owner: Browser, api: Api) -> None:
    lot, look_id = looked_at(api)
    owner.seen(f"/console/lots/{lot}")
    for _ in range(2):
        answer = owner.send(f"/console/lots/{lot}/looks/{look_id}/photos", {"photo": picture()})
        assert answer.status_code == 303
    assert len(photos(api, look_id)) == 1


def test_what_is_no_photo_is_told_on_the_page_and_none_is_added(owner: Browser, api: Api) -> None:
    lot, look_id = looked_at(api)
    for wrong, said in (
        (picture(b"<svg/>", "a.jpg"), "no picture that is known here"),
        (picture(png_of(50_000, 50_000), "a.png"), "Make it smaller"),
        (picture(b"", ""), "Choose one to 6 pictures"),
    ):
        owner.seen(f"/console/lots/{lot}")
        answer = owner.send(
            f"/console/lots/{lot}/looks/{look_id}/photos",
            {"photo": [picture(), wrong] if said[0] != "C" else wrong},
        )
        assert answer.status_code == 422
        assert said in answer.get_data(as_text=True)
        assert photos(api, look_id) == []


def test_a_photo_form_that_is_forged_or_too_long_adds_nothing(owner: Browser, api: Api) -> None:
    lot, look_id = looked_at(api)
    owner.seen(f"/console/lots/{lot}")
    address = f"/console/lots/{lot}/looks/{look_id}/photos"
    assert owner.send(address, {"photo": picture(), "csrf": "forged"}).status_code == 403
    for form, size in ((address, 49), ("/console/look", 3)):
        raw, sort = bytes(size * 1024 * 1024), "multipart/form-data; boundary=b"
        answer = owner.client.post(form, data=raw, content_type=sort, base_url=ORIGIN)
        assert answer.status_code == 413
    assert photos(api, look_id) == []


def test_a_photo_is_for_who_is_signed_in(browser: Browser, api: Api, database: Database) -> None:
    assert browser.open(f"/console/photos/{'ab' * 32}").status_code == 303


def test_a_wrong_photo_is_hidden_with_who_and_why(owner: Browser, api: Api) -> None:
    lot, look_id = looked_at(api)
    owner.seen(f"/console/lots/{lot}")
    owner.send(f"/console/lots/{lot}/looks/{look_id}/photos", {"photo": picture()})
    (one,) = photos(api, look_id)
    page = owner.seen(f"/console/lots/{lot}")
    assert f'<option value="{one["sha256"]}/">' in page
    address = f"/console/lots/{lot}/looks/{look_id}/photos/void"
    refused = owner.send(address, {"photo": f"{one['sha256']}/", "reason": ""})
    assert refused.status_code == 422
    owner.seen(f"/console/lots/{lot}")
    done = owner.send(address, {"photo": f"{one['sha256']}/", "reason": "another <lot>"})
    assert (done.status_code, done.headers["Location"]) == (
        303,
        f"/console/lots/{lot}?done=yes#look-{look_id}",
    )
    page = owner.seen(f"/console/lots/{lot}")
    assert "void, by Ines: another &lt;lot&gt;" in page
    assert f"/console/photos/{one['sha256']}" not in page


def test_a_shipment_shows_its_photos_and_papers(owner: Browser, api: Api) -> None:
    shipment = received_lot(api, hours=2)["shipment_id"]
    assert "helps when a claim is made" in owner.seen(f"/console/shipments/{shipment}")
    address = f"/console/shipments/{shipment}/photos"
    assert owner.send(address, {"photo": picture()}).status_code == 303
    owner.seen(f"/console/shipments/{shipment}")
    paper = picture(b"%PDF-1.7\n%%EOF\n", "passport.pdf")
    assert owner.send(address, {"photo": paper, "label": "plant_passport"}).status_code == 303
    page = owner.seen(f"/console/shipments/{shipment}")
    first, second = api.auditor.seen(f"/shipments/{shipment}")["photos"]
    assert f'src="/console/photos/{first["sha256"]}?size=small"' in page
    assert f'href="/console/photos/{second["sha256"]}">plant passport (PDF, 1 KB)' in page
    sent = {"photo": f"{second['sha256']}/plant_passport", "reason": "of another delivery"}
    assert owner.send(f"{address}/void", sent).status_code == 303
    page = owner.seen(f"/console/shipments/{shipment}")
    assert "of another delivery" in page
    assert second["sha256"] not in page


def test_a_photo_form_says_that_photos_need_signal(owner: Browser, api: Api) -> None:
    lot, _ = looked_at(api)
    page = owner.seen(f"/console/lots/{lot}")
    assert "They need signal: nothing of them waits in the browser." in page
    assert 'data-needs-signal="There is no signal.' in page
