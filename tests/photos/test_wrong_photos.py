"""A photo that was wrong is hidden, with who and why; a supplier's papers are kept with their shipment."""

from typing import Any

import pytest

from tests.api import Api
from tests.make_inspections import look
from tests.make_lots import received_lot
from tests.make_photos import PDF, encoded, half_and_half, kept, sent


def photographed(api: Api) -> tuple[str, dict[str, Any]]:
    lot, photo = received_lot(api, hours=2), kept(api)
    made = look(api, lot_id=lot["id"], sample_size=40, photos=[{"sha256": photo["sha256"]}])
    return f"/inspections/{made['id']}", photo


def void(api: Api, path: str, photo: dict[str, Any], **more: Any) -> Any:
    return api.grower.post(f"{path}/photos/{photo['sha256']}/void", {"reason": "another lot", **more})


def shipment_of(api: Api) -> str:
    return f"/shipments/{received_lot(api, hours=2)['shipment_id']}"


def test_a_wrong_photo_stays_with_its_look_and_says_who_and_why(api: Api) -> None:
    path, photo = photographed(api)
    answer = void(api, path, photo)
    assert answer.status_code == 200
    (shown,) = answer.get_json()["photos"]
    assert shown["void_reason"] == "another lot"
    assert shown["voided_at"] is not None
    entry = api.auditor.seen("/audit?limit=200")["items"][-1]
    assert (entry["after"]["sha256"], entry["after"]["reason"]) == (photo["sha256"], "another lot")
    assert entry["by"] == shown["voided_by"]


def test_a_void_photo_is_shown_to_managers_and_auditors_only(api: Api) -> None:
    path, photo = photographed(api)
    address = f"/photos/{photo['sha256']}"
    void(api, path, photo)
    for client, status in ((api.grower, 404), (api.seller, 404), (api.manager, 200), (api.auditor, 200)):
        assert client.get(address).status_code == status
        assert client.get(f"{address}?size=small").status_code == status


def test_a_photo_that_is_right_elsewhere_is_shown(api: Api) -> None:
    path, photo = photographed(api)
    other = received_lot(api, hours=2)
    look(api, lot_id=other["id"], sample_size=40, photos=[{"sha256": photo["sha256"]}])
    void(api, path, photo)
    assert api.grower.get(f"/photos/{photo['sha256']}").status_code == 200


def test_a_photo_is_void_once_and_shown_again_when_it_was_right(api: Api) -> None:
    path, photo = photographed(api)
    void(api, path, photo)
    again = void(api, path, photo)
    assert (again.status_code, again.get_json()["type"]) == (409, "/problems/already-voided")
    back = api.grower.made(f"{path}/photos", {"photos": [{"sha256": photo["sha256"]}]})
    assert back["photos"] == [photo]
    assert api.grower.get(f"/photos/{photo['sha256']}").status_code == 200


def test_a_photo_is_void_for_a_reason_by_the_bench_and_where_it_is(api: Api) -> None:
    path, photo = photographed(api)
    other = kept(api, encoded(half_and_half(60, 20)))
    assert void(api, path, other).status_code == 404
    assert void(api, path, photo, reason="").status_code == 422
    for client, status in ((api.seller, 403), (api.nobody, 401)):
        address = f"{path}/photos/{photo['sha256']}/void"
        assert client.post(address, {"reason": "another lot"}).status_code == status
    assert api.auditor.seen(path)["photos"] == [photo]


def test_a_shipment_has_photos_and_papers(api: Api) -> None:
    path, photo = shipment_of(api), kept(api)
    paper = sent(api, PDF, "application/pdf").get_json()
    assert (paper["media_type"], paper["bytes"], paper["width"]) == ("application/pdf", len(PDF), None)
    named = [{"sha256": photo["sha256"]}, {"sha256": paper["sha256"], "kind": "plant_passport"}]
    shown = api.grower.made(f"{path}/photos", {"photos": named})["photos"]
    assert [(one["sha256"], one["label"]) for one in shown] == [
        (photo["sha256"], None),
        (paper["sha256"], "plant_passport"),
    ]
    assert api.auditor.seen(path)["photos"] == shown
    hidden = void(api, path, paper, label="plant_passport").get_json()["photos"]
    assert [one["void_reason"] for one in hidden] == [None, "another lot"]


def test_a_paper_is_saved_never_opened_in_the_browser(api: Api) -> None:
    paper = sent(api, PDF, "application/pdf").get_json()
    shown = api.grower.get(f"/photos/{paper['sha256']}?size=small")
    assert shown.get_data() == PDF
    assert shown.headers["Content-Type"] == "application/pdf"
    assert shown.headers["Content-Disposition"] == f'attachment; filename="{paper["sha256"]}.pdf"'
    assert shown.headers["Content-Security-Policy"] == "default-src 'none'; sandbox; frame-ancestors 'none'"


def test_a_paper_is_no_photo_of_a_look(api: Api) -> None:
    path, _ = photographed(api)
    paper = sent(api, PDF, "application/pdf").get_json()
    refused = api.grower.post(f"{path}/photos", {"photos": [{"sha256": paper["sha256"]}]})
    assert (refused.status_code, refused.get_json()["errors"][0]["pointer"]) == (422, "#/photos/0")


@pytest.mark.parametrize("content", [PDF[:-7], b"%PDF-"], ids=["cut", "only a head"])
def test_a_paper_that_is_not_whole_is_not_taken(api: Api, content: bytes) -> None:
    refused = sent(api, content, "application/pdf")
    assert (refused.status_code, refused.get_json()["type"]) == (422, "/problems/paper-damaged")
