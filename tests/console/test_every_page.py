"""Every page that a link leads to is there, for every role, and says nothing of the machine behind it."""

import re
from html import unescape

import pytest

from service.accounts.rules import Role
from service.core.db import Database
from tests.api import Api
from tests.make_house import House
from tests.make_people import ORIGIN, Browser, a_person, shown_text

NEVER_SHOWN = re.compile(r"\bNone\b(?!\.| of)|Undefined|\{'|\d\+00:00|\]\}")


def links(page: str) -> set[str]:
    found = {unescape(address) for address in re.findall(r'<a[^>]* href="([^"#]*)', page)}
    pages = {one for one in found if one.startswith("/console/") and ".csv" not in one}
    return pages - {"/console/"}  # leads on to the round


def kind_of(address: str) -> str:
    """Two pages of one kind differ only in ids and queries."""
    bare = re.sub(r"[0-9a-f]{8}-[0-9a-f-]{27}|[0-9A-HJKMNP-TV-Z]{26}", "*", address.split("?", maxsplit=1)[0])
    asked = sorted(re.findall(r"[?&](\w+)=", address))
    return f"{bare}?{','.join(asked)}"


@pytest.mark.parametrize("role", [Role.OWNER, Role.GROWER, Role.SELLER, Role.AUDITOR])
@pytest.mark.usefixtures("full_house")
def test_every_link_leads_to_a_page(database: Database, browser: Browser, role: Role) -> None:
    a_person(database, role=role)
    browser.sign_in()
    seen: set[str] = set()
    waiting = ["/console/round"]
    while waiting:
        address = waiting.pop()
        if "/photos/" in address:  # a file, not a page
            assert browser.client.get(address, base_url=ORIGIN).status_code == 200, address
            continue
        page = browser.seen(address)
        text = shown_text(page)
        assert NEVER_SHOWN.findall(text) == [], address
        assert page.count("<h1") == 1, address
        for link in sorted(links(page)):
            if kind_of(link) not in seen:
                seen.add(kind_of(link))
                waiting.append(link)
    assert len(seen) > 20


def test_an_empty_house_has_pages_that_say_what_to_do_first(owner: Browser) -> None:
    for address, told in {
        "/console/round": "Nothing is due in the next seven days.",
        "/console/lots": "No lot is like this.",
        "/console/tubs": "No tub was set up yet.",
        "/console/stores": "The shelves are empty",
        "/console/sales": "No lot is ready.",
        "/console/certificates": "No lot was cleared yet.",
        "/console/recalls": "There was no recall.",
        "/console/mix": "Choose a lot",
        "/console/look": "Look at",
        "/console/receive": "Count it in",
    }.items():
        assert told in shown_text(owner.seen(address)), address


@pytest.mark.parametrize(
    "address",
    [
        "/console/nothing",
        "/console/lots/00000000-0000-7000-8000-000000000000",
        "/console/lots/not-an-id",
        "/console/certificates/00000000000000000000000000",
        "/console/recalls/00000000-0000-7000-8000-000000000000",
    ],
)
def test_what_is_not_there_is_a_page_too(owner: Browser, address: str) -> None:
    answer = owner.open(address)
    assert answer.status_code == 404
    assert "There is nothing here" in owner.page
    assert "To today's round" in unescape(owner.page)


def test_no_page_takes_a_file_from_another_host_or_holds_script_or_style(
    owner: Browser, house: House
) -> None:
    for address in (
        "/console/round",
        f"/console/lots/{house.waiting}",
        f"/console/treatments/{house.course}",
    ):
        page = owner.seen(address)
        assert re.findall(r'(?:src|href)="(?:https?:)?//', page) == []
        assert "style=" not in page
        assert re.findall(r"<script(?![^>]* src=)", page) == []
        assert re.findall(r"\son\w+=", page) == []


PAYLOAD = "\"><script>alert(1)</script><img src=x onerror='alert(1)'>"


def test_what_people_type_is_shown_as_they_typed_it(owner: Browser, api: Api) -> None:
    tub = api.grower.made(
        "/tubs", {"code": "T1", "place": PAYLOAD[:80], "volume": {"value": 40, "unit": "L"}}
    )
    supplier = api.grower.made("/suppliers", {"name": PAYLOAD, "country": "NL"})
    plant = api.grower.seen("/plants")["items"][0]["id"]
    line = {"plant_id": plant, "quantity": 5, "unit_of_sale": "pot"}
    shipment = api.grower.made("/shipments", {"supplier_id": supplier["id"], "lines": [line]})
    lot = shipment["lots"][0]["id"]
    api.grower.made(f"/lots/{lot}/holds", {"cause": PAYLOAD[:70], "reason": PAYLOAD})
    api.grower.made("/inspections", {"lot_id": lot, "sample_size": 5, "findings": [], "note": PAYLOAD})
    for address in (
        "lots",
        f"lots/{lot}",
        f"shipments/{shipment['id']}",
        "tubs",
        f"tubs/{tub['id']}",
        "receive",
    ):
        page = owner.seen(f"/console/{address}")
        assert "<script>alert" not in page
        assert "<img src=x" not in page
