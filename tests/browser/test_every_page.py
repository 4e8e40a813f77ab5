"""Every page in both themes, at a desk and on a phone: no barrier, no error, nothing cut off."""

import pytest

from tests.api import Api
from tests.browser.conftest import Served
from tests.browser.hands import DESK, PHONE, Size, opened
from tests.browser.pages import walk
from tests.make_house import photographed
from tests.make_inspections import look
from tests.make_lots import received_lot

LEAST_KINDS = 30


@pytest.mark.promise(r=23)
@pytest.mark.parametrize("size", [DESK, PHONE], ids=["desk", "phone"])
@pytest.mark.usefixtures("full_house")
def test_axe_finds_no_violation_and_the_browser_no_error(house: Served, size: Size) -> None:
    found, kinds = [], 0
    with opened(house.address, size) as hands:
        hands.sign_in()
        for kind in walk(hands):
            kinds += 1
            for scheme in ("light", "dark"):
                hands.theme(scheme)
                found += [f"{kind} ({scheme}): {one}" for one in hands.violations()]
            if hands.wider_than_the_screen():
                found.append(f"{kind}: wider than the screen")
        found += hands.complaints()
    assert not found, "\n".join(found)
    assert kinds >= LEAST_KINDS


def test_the_door_has_no_barrier_either(house: Served) -> None:
    with opened(house.address, PHONE) as hands:
        hands.open("/console/sign-in")
        assert hands.violations() == []
        assert hands.complaints() == []


def test_photos_and_their_forms_have_no_barrier(house: Served, api: Api) -> None:
    lot = received_lot(api, hours=2)
    for _ in range(2):
        look(api, lot_id=lot["id"], sample_size=40)
    photographed(api)
    with opened(house.address, PHONE) as hands:
        hands.sign_in()
        for path in (f"/console/lots/{lot['id']}", f"/console/shipments/{lot['shipment_id']}"):
            hands.open(path)
            hands.driver.execute_script(
                "document.querySelectorAll('details').forEach((d) => { d.open = true; })"
            )
            for scheme in ("light", "dark"):
                hands.theme(scheme)
                assert hands.violations() == [], (path, scheme)
            assert not hands.wider_than_the_screen(), path
        assert hands.complaints() == []
