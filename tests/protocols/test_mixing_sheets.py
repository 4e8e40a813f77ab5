"""Mixing sheets over HTTP, against worked examples: C1 V1 = C2 V2, stoichiometry, NIST conversions.

The numbers are worked examples computed by hand from the relation named beside each; molar masses from
standard atomic weights, US measures from NIST Handbook 44 appendix C.
"""

from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from service.core.db import Database
from tests.api import Api
from tests.make_protocols import amounts_of, dip, sheet, written
from tests.make_stores import batch_of, bleach, copper
from tests.protocols.bleaching import TODAY, bleach_dip, labelled
from tests.unchanged import unchanged


def test_strong_bleach_of_today_needs_less_than_the_ratio(api: Api) -> None:
    labelled(api, 8.25)
    made = sheet(api, bleach_dip(api), 10)
    [line] = amounts_of(made)
    assert line["strength_used"] == {"value": pytest.approx(87.75, rel=1e-3), "unit": "g/L"}
    assert line["calculated"]["value"] == pytest.approx(305.2, rel=1e-3)
    assert line["measured"] == {"value": 305, "unit": "mL"}
    assert line["device"] == "500 mL cylinder"
    assert line["rounding_error"] == pytest.approx(-0.0008, abs=3e-4)
    assert made["steps"][1]["result"]["substance"] == "chlorine"
    assert made["steps"][1]["result"]["value"] == pytest.approx(2678, rel=2e-3)


def test_one_part_of_old_strength_in_twenty(api: Api) -> None:
    labelled(api, 5.25)
    [line] = amounts_of(sheet(api, bleach_dip(api, 2678.4), 10))
    assert line["measured"] == {"value": 500, "unit": "mL"}
    assert {"value": pytest.approx(2.113, rel=1e-3), "unit": "[cup_us]"} in line["also"]


def test_a_measured_strength_counts_before_the_label(api: Api) -> None:
    found = labelled(api, 8.25)
    api.grower.send(
        "PATCH",
        f"/stock-batches/{found['id']}",
        {"measured_strength": {"value": 59.8, "unit": "g/L"}},
        headers={"If-Match": api.grower.get(f"/stock-batches/{found['id']}").headers["ETag"]},
    )
    [line] = amounts_of(sheet(api, bleach_dip(api), 10))
    assert line["calculated"]["value"] == pytest.approx(447.9, rel=1e-3)
    assert line["measured"] == {"value": 450, "unit": "mL"}
    assert line["rounding_error"] == pytest.approx(0.0046, abs=3e-4)


def test_an_old_bottle_is_taken_at_what_age_has_left(api: Api) -> None:
    # 6 % kept 90 days at 30 °C holds 49.22 g/L (second-order ageing, chemistry notes 3.2, rel 2e-3).
    made_on = (TODAY - timedelta(days=90)).isoformat()
    bleach(api, strength={"value": 6, "basis": "naocl_ww"}, made_on=made_on, shelf_celsius=30)
    [line] = amounts_of(sheet(api, bleach_dip(api), 10))
    assert line["aged"] is True
    assert line["strength_used"]["value"] == pytest.approx(49.22, rel=2e-3)
    assert line["calculated"]["value"] == pytest.approx(2678 * 10 / 49.22, rel=2e-3)


def test_the_strength_is_that_of_the_asked_day(api: Api) -> None:
    labelled(api, 6, shelf_celsius=30)
    then = (datetime.now(UTC) + timedelta(days=90)).isoformat()
    [line] = amounts_of(sheet(api, bleach_dip(api), 10, computed_for=then))
    assert line["strength_used"]["value"] == pytest.approx(49.22, rel=2e-3)


def test_the_spent_dip_is_neutralised_with_its_safety(api: Api) -> None:
    # 26.78 g Cl2 x 3.5 x 1.1 = 103 g thiosulfate pentahydrate, with 0.592 g bicarbonate per g Cl2 = 15.9 g.
    labelled(api, 8.25)
    made = sheet(api, bleach_dip(api), 10)["neutraliser"]
    assert made["amount"] == {"value": pytest.approx(103.1, rel=1e-3), "unit": "g"}
    assert made["with"]["amount"] == {"value": pytest.approx(15.85, rel=1e-3), "unit": "g"}
    assert made["safety_factor"] == 1.1
    assert "3.5 g per g of chlorine x 1.1" in made["safety"]


def test_the_rinse_is_neutralised_in_the_dip_of_the_reference(api: Api) -> None:
    # 53 mg/L x 10 L x 7 mg thiosulfate pentahydrate per mg Cl2 = 3.71 g.
    labelled(api, 8.25)
    batch_of(api, "thiosulfate", 500, "g")
    [line] = amounts_of(sheet(api, "bleach-dip", 10), 4)
    assert line["measured"] == {"value": 3.71, "unit": "g"}


@pytest.mark.parametrize(
    ("volume", "grams", "spoons"),
    [({"value": 12, "unit": "L"}, 42.0, 3.156), ({"value": 5, "unit": "[gal_us]"}, 66.24, 4.978)],
)
def test_alum_is_weighed_and_said_in_spoons(
    api: Api, volume: dict[str, Any], grams: float, spoons: float
) -> None:
    batch_of(api, "potassium-alum", 1000, "g")
    made = sheet(api, "alum-soak", volume)
    [line] = amounts_of(made)
    assert line["measured"] == {"value": pytest.approx(grams, rel=1e-3), "unit": "g"}
    assert {"value": pytest.approx(spoons, rel=2e-3), "unit": "[tbs_us]"} in line["also"]
    assert made["steps"][1]["result"]["element"] == {
        "symbol": "Al",
        "value": pytest.approx(199.1, rel=1e-3),
        "unit": "mg/L",
    }


def test_copper_from_a_weak_stock(api: Api) -> None:
    copper(api)
    made = sheet(api, "copper-course", 40)
    [line] = amounts_of(made)
    assert line["measured"] == {"value": 16, "unit": "mL"}
    assert made["steps"][1]["result"] == {"substance": "copper", "value": 0.4, "unit": "mg/L"}
    assert not any(also["unit"] == "[drp]" for also in line["also"])


def test_copper_from_a_strong_bottle_with_its_drops(api: Api) -> None:
    strength = {"value": 18, "unit": "g/L"}
    copper(api, 0.1, strength=strength, copper_form="ionic", drop_ml=0.05)
    written(api, dip("own-copper", "copper-stock", "copper", 0.5))
    made = sheet(api, "own-copper", 40)
    [line] = amounts_of(made)
    assert line["calculated"]["value"] == pytest.approx(1.111, rel=1e-3)
    assert line["measured"] == {"value": 1.1, "unit": "mL"}
    assert line["rounding_error"] == pytest.approx(-0.01, abs=1e-4)
    assert {"value": 22, "unit": "[drp]"} in line["also"]


def test_permanganate_from_its_stock_with_its_neutraliser(api: Api) -> None:
    batch_of(api, "permanganate-stock", 1, "L")
    batch_of(api, "thiosulfate", 500, "g")
    made = sheet(api, "permanganate-dip", 15)
    assert amounts_of(made)[0]["measured"] == {"value": 30, "unit": "mL"}
    # 3 mol thiosulfate per 8 mol permanganate: 0.589 mg/mg, 177 mg for 300 mg.
    assert made["neutraliser"]["amount"] == {"value": pytest.approx(177, rel=2e-3), "unit": "mg"}


def test_peroxide_and_salt(api: Api) -> None:
    batch_of(api, "hydrogen-peroxide", 1, "L")
    assert amounts_of(sheet(api, "peroxide-dip", 5))[0]["measured"] == {"value": 250, "unit": "mL"}
    batch_of(api, "salt", 1000, "g")
    written(api, dip("own-salt", "salt", "salt", 35, "g/L"))
    assert amounts_of(sheet(api, "own-salt", 8))[0]["measured"] == {"value": 280, "unit": "g"}


def test_us_units_are_shown_when_asked(api: Api) -> None:
    copper(api)
    body = {"protocol": "copper-course", "version": 1, "water_volume": {"value": 40, "unit": "L"}}
    made = api.grower.made("/mixing-sheets?units=us", body)
    assert made["water_volume"] == {"value": pytest.approx(10.567, rel=1e-4), "unit": "[gal_us]"}
    assert amounts_of(made)[0]["reads"] == {"value": 16, "unit": "mL"}


def test_what_is_missing_is_said_and_the_sheet_is_still_computed(api: Api) -> None:
    batch_of(api, "potassium-alum", 10, "g")
    made = sheet(api, "alum-soak", 12)
    assert made["enough"] is False
    assert made["shortages"] == [{"material": "potassium-alum", "missing": {"value": 32, "unit": "g"}}]
    assert [line["batch_id"] is None for line in amounts_of(made)] == [False, True]


def test_the_sheet_says_the_order_the_cautions_and_what_to_wear(api: Api) -> None:
    labelled(api, 8.25)
    batch_of(api, "thiosulfate", 500, "g")
    made = sheet(api, "bleach-dip", 10)
    said = " ".join(made["cautions"])
    for word in ("ammonia", "acid", "gloves", "window", "label", "local law"):
        assert word in said
    order = made["steps"][1]["order"]
    assert order[0].startswith("Put on: ")
    assert "never the water to it" in order[2]
    assert made["disposal"]
    assert made["protective_wear"]


def test_nothing_is_stored_and_no_version_is_raised(api: Api, database: Database) -> None:
    labelled(api, 8.25)
    code = bleach_dip(api)
    with unchanged(database):
        sheet(api, code, 10)
