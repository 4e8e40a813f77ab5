"""The public check page of a certificate, and what machines get there."""

import pytest

from service.clearance.signing import claims_of
from tests.api import Api
from tests.clearance.test_certificates import statement
from tests.clearance.test_words import held_against_official_words, seen_on
from tests.journeys.bench import Bench


@pytest.fixture
def serial(bench: Bench) -> str:
    return str(bench.see(bench.cleared_lot())["certificate_serial"])


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


@pytest.mark.promise(r=29)
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


def test_a_superseded_statement_leads_to_the_one_in_its_place(api: Api, bench: Bench, cleared: str) -> None:
    former = bench.see(cleared)["certificate_serial"]
    api.grower.made(
        f"/lots/{cleared}/splits", {"quantity": 5, "tub_id": bench.tub("Q7"), "reason": "a shelf"}
    )
    present = bench.see(cleared)["certificate_serial"]
    text = api.nobody.get(f"/c/{former}").get_data(as_text=True)
    assert '<p class="status">superseded</p>' in text
    assert f'<a href="/c/{present}">' in text
    shown = api.nobody.get(f"/c/{former}", Accept="application/json").get_json()
    assert (shown["status"], shown["superseded_by"]) == ("superseded", present)
    assert shown["meaning"].startswith("Another statement stands in its place")


@pytest.mark.promise(r=29)
def test_the_check_tells_nothing_of_customers(api: Api, cleared: str) -> None:
    sale = {
        "order_ref": "W-9",
        "customer_ref": "Rosa of the pond",
        "lines": [{"lot_id": cleared, "quantity": 2}],
    }
    sent = api.shop.made("/dispatches", sale)["id"]
    [parcel] = api.seller.made(f"/dispatches/{sent}/certificates")["items"]
    for accepted in ("text/html", "application/json"):
        text = api.nobody.get(f"/c/{parcel['serial']}", Accept=accepted).get_data(as_text=True)
        claims = str(claims_of(parcel["jws"]))
        assert not [word for word in ("W-9", "Rosa", sent) if word in text + claims]
