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
from service.clearance.signing import load_public
from service.clearance.verifying import verify
from service.core.clock import utc_now
from service.core.db import Database
from service.core.settings import Settings
from tests.api import Api
from tests.clearance.test_words import held_against_official_words
from tests.journeys.bench import Bench
from tests.make_clearance import decide, ready


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


def test_a_hold_suspends_and_its_lifting_restores(api: Api, bench: Bench, cleared: str) -> None:
    serial = bench.see(cleared)["certificate_serial"]
    held = api.seller.made(f"/lots/{cleared}/holds", {"cause": "complaint", "reason": "a photo"})
    assert api.auditor.seen(f"/certificates/{serial}")["status"] == "suspended"
    assert "on hold" in api.nobody.get(f"/c/{serial}").get_data(as_text=True)
    [hold] = bench.see(cleared)["holds"]
    path = f"/lots/{cleared}/holds/{hold['id']}?reason=ours+not"
    tag = api.manager.get(f"/lots/{cleared}").headers["ETag"]
    assert api.manager.send("DELETE", path, headers={"If-Match": tag}).status_code in {200, 204}, held
    assert api.auditor.seen(f"/certificates/{serial}")["status"] == "valid"


def test_after_its_last_day_it_is_expired(api: Api, serial: str, database: Database) -> None:
    with database.writing() as session:
        session.execute(update(Certificate).values(expires_at=utc_now()))
    assert api.auditor.seen(f"/certificates/{serial}")["status"] == "expired"
    assert "has not stood since" in api.nobody.get(f"/c/{serial}").get_data(as_text=True)


def test_a_manager_takes_a_certificate_back_once_and_the_lot_goes_back(
    api: Api, bench: Bench, cleared: str
) -> None:
    serial = bench.see(cleared)["certificate_serial"]
    path = f"/certificates/{serial}/revocation"
    assert api.seller.post(path, {"reason": "x"}).status_code == 403
    taken = api.manager.made(path, {"reason": "a customer found one"})
    assert (taken["status"], taken["end_reason"]) == ("revoked", "a customer found one")
    assert bench.see(cleared)["state"] == "in_quarantine"
    again = api.manager.post(path, {"reason": "again"})
    assert again.status_code == 409
    assert again.get_json()["current_state"] == "revoked"


def test_the_certificate_of_a_sold_out_lot_can_be_taken_back(api: Api, bench: Bench, cleared: str) -> None:
    serial = bench.see(cleared)["certificate_serial"]
    sale = {"order_ref": "W-9", "customer_ref": "customer 4", "lines": [{"lot_id": cleared, "quantity": 20}]}
    api.shop.made("/dispatches", sale)
    api.manager.made(f"/certificates/{serial}/revocation", {"reason": "a customer found one"})
    assert bench.see(cleared)["state"] == "closed"
    assert api.auditor.seen(f"/certificates/{serial}")["status"] == "revoked"


def test_certificates_are_listed_the_newest_first(api: Api, bench: Bench) -> None:
    lots = [bench.cleared_lot(tub=bench.tub(code)) for code in ("Q1", "Q2")]
    items = api.auditor.seen("/certificates")["items"]
    assert [item["lot_id"] for item in items] == lots[::-1]
    assert api.auditor.get("/lots/00000000-0000-7000-8000-000000000000/certificates").status_code == 404
    assert api.auditor.get(f"/certificates/{'0' * 26}").status_code == 404
    assert api.manager.post(f"/certificates/{'0' * 26}/revocation", {"reason": "x"}).status_code == 404


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
