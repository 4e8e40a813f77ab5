"""Certificates: what is signed, what anybody can check, and how one is taken back."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import orjson
import pypdfium2
import pytest
import zxingcpp
from joserfc import jws
from joserfc.jwk import OKPKey
from sqlalchemy import update

from service.clearance.models import Certificate
from service.clearance.signing import claims_of, load_public
from service.clearance.verifying import verify
from service.core.clock import utc_now
from service.core.db import Database
from service.core.settings import Settings
from tests.api import Api
from tests.clearance.test_words import held_against_official_words, seen_on
from tests.journeys.bench import Bench
from tests.make_clearance import decide, ready
from tests.unchanged import unchanged


@pytest.fixture
def serial(bench: Bench) -> str:
    return str(bench.see(bench.cleared_lot())["certificate_serial"])


def statement(api: Api, token: str) -> Mapping[str, Any]:
    """The claims, checked with the key that is published."""
    header = jws.extract_compact(token.encode()).headers()
    keys = {key["kid"]: key for key in api.nobody.seen("/.well-known/jwks.json")["keys"]}
    checked = jws.deserialize_compact(token, OKPKey.import_key(keys[header["kid"]]), algorithms=["Ed25519"])
    said: Mapping[str, Any] = orjson.loads(checked.payload or b"")
    return said


def test_the_statement_can_be_checked_by_anybody_with_the_published_key(api: Api, bench: Bench) -> None:
    lot = bench.see(bench.cleared_lot())
    shown = api.seller.seen(f"/certificates/{lot['certificate_serial']}")
    said = statement(api, shown["jws"])
    assert said["jti"] == lot["certificate_serial"]
    assert said["sub"] == f"urn:uuid:{lot['id']}"
    assert (said["lot"], said["quantity"], said["unit_of_sale"]) == (lot["code"], 20, "pot")
    assert said["scientific_name"] == "Anubias barteri"
    assert {treatment["protocol"] for treatment in said["treatments"]} == {"quarantine-only"}
    methods = [look["method"] for look in said["looks"]]
    assert (methods[0], methods[-2:]) == ("eyes", ["eyes", "eyes"])
    assert {"strain", "bait"} <= set(methods)
    assert {judged["pest"] for judged in said["chance_none_is_left"]} >= {"bladder_snail", "pond_snail"}
    assert said["statement"][0].startswith("This is the seller's own statement.")
    assert "Pond snail" in said["looked_for"]
    assert shown["check_url"] == said["check_url"] == f"https://nursery.example/c/{said['jti']}"


def test_the_statement_can_be_printed_again_and_again_and_checked_offline(
    api: Api, bench: Bench, settings: Settings, tmp_path: Path
) -> None:
    serial = bench.see(bench.cleared_lot())["certificate_serial"]
    first, again = (api.seller.get(f"/certificates/{serial}.pdf") for _ in range(2))
    assert (first.status_code, first.mimetype) == (200, "application/pdf")
    assert first.data == again.data
    published = tmp_path / "jwks.json"
    published.write_bytes(api.nobody.get("/.well-known/jwks.json").data)
    verdict = verify(first.data, load_public(published), utc_now())
    assert (verdict.reasons, verdict.claims["jti"]) == ([], serial)
    sheets = pypdfium2.PdfDocument(first.data)
    held_against_official_words("\n".join(sheet.get_textpage().get_text_range() for sheet in sheets))
    [code] = zxingcpp.read_barcodes(sheets[0].render(scale=2).to_numpy())
    assert code.text == f"{settings.public_url}/c/{serial}"
    assert api.nobody.get(f"/certificates/{serial}.pdf").status_code == 401
    assert api.seller.get(f"/certificates/{'0' * 26}.pdf").status_code == 404


def test_the_check_page_needs_no_token_and_runs_nothing(api: Api, serial: str) -> None:
    page = api.nobody.get(f"/c/{serial}")
    text = page.get_data(as_text=True)
    assert page.status_code == 200
    assert page.mimetype == "text/html"
    assert '<p class="status">valid</p>' in text
    assert "not an official plant-health document" in text
    assert "<script" not in text
    assert "http://" not in text
    assert page.headers["Content-Security-Policy"].startswith("default-src 'none'")


def test_the_check_answers_json_when_asked(api: Api, serial: str) -> None:
    shown = api.nobody.get(f"/c/{serial}", Accept="application/json").get_json()
    assert (shown["serial"], shown["status"], shown["quantity"]) == (serial, "valid", 20)
    assert statement(api, shown["jws"])["statement"] == shown["statement"]


def test_a_number_may_be_read_aloud(api: Api, serial: str) -> None:
    spoken = "-".join([serial[:13].lower().replace("0", "o").replace("1", "l"), serial[13:]])
    assert api.nobody.get(f"/c/{spoken}").status_code == 200


def test_an_unknown_number_and_a_malformed_one_look_alike(api: Api) -> None:
    numbers = ("0" * 26, "nonsense", "<b>", "9" * 400)
    pages = [api.nobody.get(f"/c/{number}") for number in numbers]
    assert {(page.status_code, page.mimetype) for page in pages} == {(404, "text/html")}
    [text] = {page.get_data(as_text=True) for page in pages}
    assert "There is no statement with this number here." in text
    held_against_official_words(seen_on(text))
    answers = [api.nobody.get(f"/c/{number}", Accept="application/json") for number in numbers]
    assert {(each.status_code, each.mimetype) for each in answers} == {(404, "application/problem+json")}
    assert len({each.get_json()["detail"] for each in answers}) == 1


def test_a_superseded_statement_leads_to_the_one_in_its_place(api: Api, bench: Bench) -> None:
    lot = bench.cleared_lot()
    former = bench.see(lot)["certificate_serial"]
    api.grower.made(f"/lots/{lot}/splits", {"quantity": 5, "tub_id": bench.tub("Q7"), "reason": "a shelf"})
    present = bench.see(lot)["certificate_serial"]
    text = api.nobody.get(f"/c/{former}").get_data(as_text=True)
    assert '<p class="status">superseded</p>' in text
    assert f'<a href="/c/{present}">' in text
    shown = api.nobody.get(f"/c/{former}", Accept="application/json").get_json()
    assert (shown["status"], shown["superseded_by"]) == ("superseded", present)
    assert shown["meaning"].startswith("Another statement stands in its place")


def test_the_check_tells_nothing_of_customers(api: Api, bench: Bench) -> None:
    lot = bench.cleared_lot()
    sale = {"order_ref": "W-9", "customer_ref": "Rosa of the pond", "lines": [{"lot_id": lot, "quantity": 2}]}
    sent = api.shop.made("/dispatches", sale)["id"]
    [parcel] = api.seller.made(f"/dispatches/{sent}/certificates")["items"]
    for accepted in ("text/html", "application/json"):
        text = api.nobody.get(f"/c/{parcel['serial']}", Accept=accepted).get_data(as_text=True)
        claims = str(claims_of(parcel["jws"]))
        assert not [word for word in ("W-9", "Rosa", sent) if word in text + claims]


def test_a_hold_suspends_and_its_lifting_restores(api: Api, bench: Bench) -> None:
    lot = bench.cleared_lot()
    serial = bench.see(lot)["certificate_serial"]
    held = api.seller.made(f"/lots/{lot}/holds", {"cause": "complaint", "reason": "a photo"})
    assert api.auditor.seen(f"/certificates/{serial}")["status"] == "suspended"
    assert "on hold" in api.nobody.get(f"/c/{serial}").get_data(as_text=True)
    [hold] = bench.see(lot)["holds"]
    path = f"/lots/{lot}/holds/{hold['id']}?reason=ours+not"
    tag = api.manager.get(f"/lots/{lot}").headers["ETag"]
    assert api.manager.send("DELETE", path, headers={"If-Match": tag}).status_code in {200, 204}, held
    assert api.auditor.seen(f"/certificates/{serial}")["status"] == "valid"


def test_after_its_last_day_it_is_expired(api: Api, serial: str, database: Database) -> None:
    with database.writing() as session:
        session.execute(update(Certificate).values(expires_at=utc_now()))
    assert api.auditor.seen(f"/certificates/{serial}")["status"] == "expired"
    assert "has not stood since" in api.nobody.get(f"/c/{serial}").get_data(as_text=True)


def test_a_manager_takes_a_certificate_back_once_and_the_lot_goes_back(api: Api, bench: Bench) -> None:
    lot = bench.cleared_lot()
    serial = bench.see(lot)["certificate_serial"]
    path = f"/certificates/{serial}/revocation"
    assert api.seller.post(path, {"reason": "x"}).status_code == 403
    taken = api.manager.made(path, {"reason": "a customer found one"})
    assert (taken["status"], taken["end_reason"]) == ("revoked", "a customer found one")
    assert bench.see(lot)["state"] == "in_quarantine"
    again = api.manager.post(path, {"reason": "again"})
    assert again.status_code == 409
    assert again.get_json()["current_state"] == "revoked"


def test_the_certificate_of_a_sold_out_lot_can_be_taken_back(api: Api, bench: Bench) -> None:
    lot = bench.cleared_lot()
    serial = bench.see(lot)["certificate_serial"]
    sale = {"order_ref": "W-9", "customer_ref": "customer 4", "lines": [{"lot_id": lot, "quantity": 20}]}
    api.shop.made("/dispatches", sale)
    api.manager.made(f"/certificates/{serial}/revocation", {"reason": "a customer found one"})
    assert bench.see(lot)["state"] == "closed"
    assert api.auditor.seen(f"/certificates/{serial}")["status"] == "revoked"


def test_certificates_are_listed_the_newest_first(api: Api, bench: Bench) -> None:
    lots = [bench.cleared_lot(tub=bench.tub(code)) for code in ("Q1", "Q2")]
    items = api.auditor.seen("/certificates")["items"]
    assert [item["lot_id"] for item in items] == lots[::-1]
    assert api.auditor.get("/lots/00000000-0000-7000-8000-000000000000/certificates").status_code == 404
    assert api.auditor.get(f"/certificates/{'0' * 26}").status_code == 404
    assert api.manager.post(f"/certificates/{'0' * 26}/revocation", {"reason": "x"}).status_code == 404


def own_policy(api: Api) -> dict[str, Any]:
    """A body that makes a policy of the nursery's own from the standard one."""
    standard = api.owner.seen("/policies/standard/versions/3")
    left_out = {"id", "version", "reference_version", "created_at"}
    return {name: value for name, value in standard.items() if name not in left_out} | {"code": "own"}


def test_the_owner_writes_versions_of_policies_that_never_change(api: Api) -> None:
    body = own_policy(api)
    assert api.manager.post("/policies", body).status_code == 403
    first = api.owner.made("/policies", body)
    body["floor"] |= {"days": 21}
    second = api.owner.made("/policies", body)
    assert (first["version"], second["version"]) == (1, 2)
    assert api.auditor.seen("/policies/own/versions/1")["floor"]["days"] == 14
    assert api.auditor.seen("/policies/own/versions/2")["floor"]["days"] == 21
    assert api.auditor.get("/policies/own/versions/3").status_code == 404
    shown = [(item["code"], item["version"]) for item in api.auditor.seen("/policies")["items"]]
    assert shown == [("own", 1), ("own", 2), ("standard", 3), ("strict", 3)]


@pytest.mark.parametrize(
    ("section", "figure", "value", "pointer"),
    [
        ("sampling", "confidence", 1, "#/sampling/confidence"),
        ("sampling", "confidence", "0.9", "#/sampling/confidence"),
        ("looks", "clean_looks", 0, "#/looks/clean_looks"),
        ("scope", "pests", ["unicorn"], "#/scope/pests"),
        ("floor", "colour", "red", "#/floor/colour"),
        ("hatch", "factor_treated", -1, "#/hatch/factor_treated"),
    ],
)
def test_a_figure_that_cannot_be_is_named_and_nothing_changes(
    api: Api, database: Database, section: str, figure: str, value: object, pointer: str
) -> None:
    body = own_policy(api)
    body[section] |= {figure: value}
    with unchanged(database):
        answer = api.owner.post("/policies", body)
    assert answer.status_code == 422
    assert [error["pointer"] for error in answer.get_json()["errors"]] == [pointer]


def test_a_figure_left_out_is_named(api: Api) -> None:
    body = own_policy(api)
    del body["floor"]["days"]
    [error] = api.owner.post("/policies", body).get_json()["errors"]
    assert error == {"pointer": "#/floor/days", "detail": "Is missing."}


def test_a_statement_says_when_the_supplier_was_not_asked_about_treatments(api: Api, bench: Bench) -> None:
    lot = bench.see(bench.cleared_lot())
    said = statement(api, api.seller.seen(f"/certificates/{lot['certificate_serial']}")["jws"])
    assert "The grower who sent the plants was not asked what they were treated with." in said["statement"]
    tub = bench.tub("Q9")
    bench.logger(tub, 0, bench.age, 24)
    asked = ready(bench, tub, told={"supplier_treatment": "none"})
    part = bench.api.grower.made(f"/lots/{asked}/splits", {"quantity": 5, **bench.when(bench.age - 0.5)})[
        "id"
    ]
    said = statement(api, decide(bench, part).get_json()["certificate"]["jws"])
    assert not any("was not asked" in sentence for sentence in said["statement"])
