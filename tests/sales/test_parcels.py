"""A customer's own certificate: names what his parcel has, falls with its lot, and says nothing of him."""

import orjson
import pytest
from joserfc import jws

from service.core.db import Database
from service.sales.rules_parcels import parcel_reasons
from tests.api import Api
from tests.journeys.bench import Bench
from tests.unchanged import unchanged


def dispatched(api: Api, lot: str, *quantities: int) -> str:
    lines = [{"lot_id": lot, "quantity": quantity} for quantity in quantities]
    body = {"order_ref": "W-77", "customer_ref": "customer 31", "lines": lines}
    return str(api.seller.made("/dispatches", body)["id"])


@pytest.mark.parametrize(
    ("holds", "valid", "codes"),
    [([], True, []), (["complaint"], True, ["held"]), ([], False, ["no-certificate"])],
)
def test_a_parcel_states_no_more_than_its_lot_may(holds: list[str], valid: bool, codes: list[str]) -> None:
    assert [r.code for r in parcel_reasons("26-001-01", holds, certificate_valid=valid)] == codes


def test_a_parcel_gets_its_own_certificate_once_for_its_own_quantity(
    api: Api, bench: Bench, cleared: str
) -> None:
    whole = bench.see(cleared)["certificate_serial"]
    sent = dispatched(api, cleared, 4, 2)
    path = f"/dispatches/{sent}/certificates"
    assert api.auditor.seen(path) == {"items": []}
    assert api.shop.post(path).status_code == 403
    [made] = api.seller.made(path)["items"]
    assert (made["quantity"], made["status"], made["dispatch_id"]) == (6, "valid", sent)
    said = orjson.loads(jws.extract_compact(made["jws"].encode()).payload)
    assert (said["quantity"], said["parcel"]["of"], said["jti"]) == (6, whole, made["serial"])
    assert "customer" not in str(said)
    assert "W-77" not in str(said)
    assert api.seller.made(path) == {"items": [made]} == api.auditor.seen(path)
    assert api.nobody.get(f"/c/{made['serial']}", Accept="application/json").get_json()["quantity"] == 6
    assert bench.see(cleared)["certificate_serial"] == whole
    assert api.seller.get(f"/certificates/{made['serial']}.pdf").status_code == 200


def test_it_falls_with_its_lot_even_after_a_split(api: Api, bench: Bench, cleared: str) -> None:
    [made] = api.seller.made(f"/dispatches/{dispatched(api, cleared, 6)}/certificates")["items"]
    split = {"quantity": 5, "tub_id": bench.tub("Q7"), "reason": "another shelf"}
    api.grower.made(f"/lots/{cleared}/splits", split)
    assert api.auditor.seen(f"/certificates/{made['serial']}")["status"] == "valid"
    whole = bench.see(cleared)["certificate_serial"]
    assert api.auditor.seen(f"/certificates/{whole}")["quantity"] == 9
    api.manager.made(f"/certificates/{whole}/revocation", {"reason": "a customer found one"})
    ended = api.auditor.seen(f"/certificates/{made['serial']}")
    assert (ended["status"], ended["end_reason"]) == ("revoked", "a customer found one")


def test_a_split_off_remainder_has_a_certificate_of_its_own_and_the_former_names_the_next(
    api: Api, bench: Bench, cleared: str
) -> None:
    former = bench.see(cleared)["certificate_serial"]
    split = {"quantity": 5, "tub_id": bench.tub("Q7"), "reason": "another shelf"}
    child = api.grower.made(f"/lots/{cleared}/splits", split)
    rest = child["id"] if "id" in child else child["child"]["id"]
    serials = [bench.see(each)["certificate_serial"] for each in (cleared, rest)]
    assert [api.auditor.seen(f"/certificates/{s}")["quantity"] for s in serials] == [15, 5]
    old = api.auditor.seen(f"/certificates/{former}")
    assert (old["status"], old["superseded_by"]) == ("superseded", serials[0])
    sent = dispatched(api, rest, 5)
    [parcel] = api.seller.made(f"/dispatches/{sent}/certificates")["items"]
    assert (parcel["lot_id"], parcel["quantity"]) == (rest, 5)


def test_one_parcels_certificate_ends_alone(api: Api, bench: Bench) -> None:
    lot = bench.cleared_lot()
    [made] = api.seller.made(f"/dispatches/{dispatched(api, lot, 6)}/certificates")["items"]
    api.manager.made(f"/certificates/{made['serial']}/revocation", {"reason": "the wrong parcel"})
    assert bench.see(lot)["state"] == "cleared"
    assert api.auditor.seen(f"/certificates/{bench.see(lot)['certificate_serial']}")["status"] == "valid"


def test_a_reversed_dispatch_takes_its_certificate_with_it(
    api: Api, cleared: str, database: Database
) -> None:
    sent = dispatched(api, cleared, 6)
    [made] = api.seller.made(f"/dispatches/{sent}/certificates")["items"]
    api.manager.made(f"/dispatches/{sent}/reversal", {"reason": "never left"})
    assert api.auditor.seen(f"/certificates/{made['serial']}")["status"] == "revoked"
    with unchanged(database):
        refused = api.seller.post(f"/dispatches/{sent}/certificates")
    assert (refused.status_code, refused.get_json()["current_state"]) == (409, "reversed")
    missing = "/dispatches/00000000-0000-7000-8000-000000000000/certificates"
    assert api.seller.get(missing).status_code == api.seller.post(missing).status_code == 404


def test_nothing_is_stated_of_a_lot_that_is_held_or_went_back(
    api: Api, bench: Bench, database: Database, cleared: str
) -> None:
    sent = dispatched(api, cleared, 6)
    api.seller.made(f"/lots/{cleared}/holds", {"cause": "complaint", "reason": "a photo"})
    with unchanged(database):
        held = api.seller.post(f"/dispatches/{sent}/certificates")
    assert [reason["code"] for reason in held.get_json()["reasons"]] == ["held"]
    serial = bench.see(cleared)["certificate_serial"]
    api.manager.made(f"/certificates/{serial}/revocation", {"reason": "found one"})
    gone = api.seller.post(f"/dispatches/{sent}/certificates")
    assert [reason["code"] for reason in gone.get_json()["reasons"]] == ["no-certificate"]
