"""The HTTP habits that every address has, shown on suppliers."""

from typing import Any

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from service.core.db import Database
from service.journal.models import JournalEntry
from tests.api import Api

SUPPLIER: dict[str, Any] = {"name": "Brookside Aquatics", "country": "PT"}


def entries(session: Session) -> int:
    return session.scalar(select(func.count()).select_from(JournalEntry)) or 0


def test_a_supplier_is_added_and_shown(api: Api) -> None:
    made = api.grower.made("/suppliers", SUPPLIER)
    assert api.auditor.seen(f"/suppliers/{made['id']}") == made


@pytest.mark.promise(r=16)
def test_every_change_is_written_into_the_journal(api: Api) -> None:
    made = api.grower.made("/suppliers", SUPPLIER)
    trail = api.owner.seen(f"/audit?subject=supplier/{made['id']}")["items"]
    assert [item["kind"] for item in trail] == ["supplier.added"]


def test_a_wrong_body_is_refused_with_pointers_and_changes_nothing(api: Api, database: Database) -> None:
    with database.reading() as session:
        before = entries(session)
    answer = api.grower.post("/suppliers", {"name": "", "country": "Portugal", "colour": "green"})
    body = answer.get_json()
    assert answer.status_code == 422
    assert answer.mimetype == "application/problem+json"
    assert {error["pointer"] for error in body["errors"]} == {"#/name", "#/country", "#/colour"}
    with database.reading() as session:
        assert entries(session) == before


@pytest.mark.promise(r=20)
@pytest.mark.parametrize(
    ("raw", "status"),
    [
        (b'{"name": "x"', 400),
        (b'{"name": "a", "name": "b", "country": "PT"}', 400),
        (b'{"name": NaN, "country": "PT"}', 400),
        (b'{"name": "a\\u0000b", "country": "PT"}', 400),
        (b'{"name": "\\ud800", "country": "PT"}', 400),
        (b'{"name": 1e999, "country": "PT"}', 400),
        (b"[" * 50 + b"]" * 50, 400),
    ],
)
def test_a_body_that_is_not_strict_json_is_refused(api: Api, raw: bytes, status: int) -> None:
    assert api.grower.send("POST", "/suppliers", raw=raw).status_code == status


def test_another_content_type_is_refused(api: Api) -> None:
    headers = {"Content-Type": "application/x-www-form-urlencoded"}
    assert api.grower.send("POST", "/suppliers", raw=b"name=x", headers=headers).status_code == 415


def test_an_unknown_or_repeated_query_name_is_refused(api: Api) -> None:
    assert api.grower.get("/suppliers?colour=green").status_code == 422
    assert api.grower.get("/suppliers?limit=5&limit=6").status_code == 422


def test_an_unknown_query_name_is_refused_where_no_query_is_read_at_all(api: Api) -> None:
    made = api.grower.made("/suppliers", SUPPLIER)
    assert api.grower.get(f"/suppliers/{made['id']}?colour=green").status_code == 422
    assert api.grower.get(f"/suppliers/{made['id']}?units=us").status_code == 200
    assert api.grower.post("/suppliers?colour=green", SUPPLIER).status_code == 422


def test_without_a_token_nothing_is_shown(api: Api) -> None:
    answer = api.nobody.get("/suppliers")
    assert answer.status_code == 401
    assert answer.headers["WWW-Authenticate"].startswith("Bearer")


@pytest.mark.promise(r=21)
def test_a_role_that_may_not_is_refused_before_its_body_is_read(api: Api) -> None:
    assert api.auditor.post("/suppliers", {"nonsense": 1}).status_code == 403


def test_a_wrong_method_says_which_are_allowed(api: Api) -> None:
    answer = api.grower.send("PUT", "/suppliers", {})
    assert answer.status_code == 405
    assert "POST" in answer.headers["Allow"]


@pytest.mark.promise(r=3)
def test_the_same_key_and_body_gives_the_first_answer_again(api: Api) -> None:
    first = api.grower.post("/suppliers", SUPPLIER, Idempotency_Key='"one"')
    again = api.grower.post(
        "/suppliers", {"country": "PT", "name": "Brookside Aquatics"}, Idempotency_Key="one"
    )
    assert first.status_code == again.status_code == 201
    assert first.get_json() == again.get_json()
    assert again.headers["Idempotency-Replayed"] == "true"
    assert again.headers["Location"] == first.headers["Location"]
    assert len(api.grower.seen("/suppliers")["items"]) == 1


@pytest.mark.promise(r=3)
def test_the_same_key_with_another_body_is_refused(api: Api) -> None:
    api.grower.post("/suppliers", SUPPLIER, Idempotency_Key="one")
    answer = api.grower.post("/suppliers", {**SUPPLIER, "name": "Other"}, Idempotency_Key="one")
    assert answer.status_code == 422


def test_a_refusal_decided_by_the_state_is_replayed_too(api: Api) -> None:
    api.grower.made("/suppliers", SUPPLIER)
    first = api.grower.post("/suppliers", SUPPLIER, Idempotency_Key="again")
    again = api.grower.post("/suppliers", SUPPLIER, Idempotency_Key="again")
    assert first.status_code == again.status_code == 409
    assert again.headers["Idempotency-Replayed"] == "true"


def test_a_change_needs_the_version_that_was_seen(api: Api) -> None:
    made = api.grower.post("/suppliers", SUPPLIER)
    path, tag = f"/suppliers/{made.get_json()['id']}", made.headers["ETag"]
    assert api.manager.send("PATCH", path, {"active": False}).status_code == 428
    changed = api.manager.send("PATCH", path, {"active": False}, headers={"If-Match": tag})
    assert changed.status_code == 200
    assert changed.headers["ETag"] != tag
    assert api.manager.send("PATCH", path, {"active": True}, headers={"If-Match": tag}).status_code == 412


def test_what_the_client_already_has_is_not_sent_again(api: Api) -> None:
    made = api.grower.post("/suppliers", SUPPLIER)
    answer = api.grower.get(f"/suppliers/{made.get_json()['id']}", If_None_Match=made.headers["ETag"])
    assert answer.status_code == 304


def test_pages_together_hold_everything_once(api: Api) -> None:
    names = [f"Supplier {n}" for n in range(5)]
    for name in names:
        api.grower.made("/suppliers", {**SUPPLIER, "name": name})
    path, seen = "/suppliers?limit=2", []
    while path:
        answer = api.grower.get(path)
        seen += [item["name"] for item in answer.get_json()["items"]]
        path = answer.headers.get("Link", "").partition("<")[2].partition(">")[0]
    assert seen == names


def test_a_cursor_of_another_query_or_a_forged_one_is_refused(api: Api) -> None:
    for n in range(3):
        api.grower.made("/suppliers", {**SUPPLIER, "name": f"Supplier {n}"})
    cursor = api.grower.seen("/suppliers?limit=1")["next"]
    for query in (f"active=true&cursor={cursor}", f"cursor={cursor}x"):
        answer = api.grower.get(f"/suppliers?limit=1&{query}")
        assert answer.status_code == 422
        assert [error["pointer"] for error in answer.get_json()["errors"]] == ["#/query/cursor"]


@pytest.mark.promise(r=26)
def test_a_list_is_given_as_csv_without_formulas(api: Api) -> None:
    api.grower.made("/suppliers", {**SUPPLIER, "name": "=HYPERLINK(1)"})
    answer = api.grower.get("/suppliers", Accept="text/csv")
    assert answer.mimetype == "text/csv"
    header, row = answer.get_data(as_text=True).splitlines()
    assert header.split(",")[:3] == ["id", "name", "country"]
    assert "'=HYPERLINK(1)" in row


def test_the_journal_is_an_unbroken_chain(api: Api) -> None:
    api.grower.made("/suppliers", SUPPLIER)
    found = api.auditor.seen("/audit/check")
    assert found["intact"]
    assert found["entries"] > 0


def test_health_readiness_and_metrics_are_there(api: Api) -> None:
    assert api.nobody.get("/healthz").get_json()["status"] == "pass"
    assert api.nobody.get("/readyz").get_json()["checks"]["migrations"][0]["status"] == "pass"
    assert "http_server_request_duration_seconds" in api.nobody.get("/metrics").get_data(as_text=True)


@pytest.mark.promise(r=20)
def test_a_number_in_an_address_that_no_database_could_hold_is_not_found(api: Api) -> None:
    [policy, *_] = api.auditor.seen("/policies")["items"]
    for address, number in (
        (f"/policies/{policy['code']}/versions/", policy["version"]),
        ("/protocols/alum-soak/versions/", 1),
    ):
        assert api.auditor.get(f"{address}{number}").status_code == 200
        assert api.auditor.get(f"{address}{10**30}").status_code == 404
