"""Active mass poured away, before and after neutralising, in the consumption report."""

from decimal import Decimal
from typing import Any

import pytest

from service.core.db import Database
from service.reports.queries import rollup_differs
from tests.api import Api
from tests.make_lots import tub
from tests.make_quarantine import work_done
from tests.make_treatments import SHELF_DAYS, course, day, finished, lot, planned, shelf, started, washed

DIPPED, NEUTRALISED = 10.0, 12.0  # days: the neutraliser came two days late, so the rollup had been made


def dipped(api: Api, database: Database) -> tuple[str, dict[str, Any]]:
    """A bleach dip whose bath was not neutralised yet; the treatment and the batches."""
    batches = shelf(api)
    treatment = planned(api, "bleach-dip", tub(database, "T1"), [lot(api)], DIPPED)
    moment = washed(api, treatment, DIPPED)
    started(api, treatment, 2, moment)
    finished(api, treatment, 2, moment + 120 / 86400)
    started(api, treatment, 3, moment + 180 / 86400)
    return treatment, batches


def neutralised(api: Api, treatment: str, batches: dict[str, Any], grams: float) -> None:
    finished(api, treatment, 3, NEUTRALISED, "left standing over the weekend")
    pour = {"batch_id": batches["thiosulfate"]["id"], "amount": {"value": grams, "unit": "g"}}
    started(api, treatment, 4, NEUTRALISED, poured=[pour])


def rows(api: Api, by: str = "material") -> list[dict[str, Any]]:
    query = f"from={day(0).date()}&to={day(SHELF_DAYS).date()}&by={by}"
    found: list[dict[str, Any]] = api.grower.seen(f"/reports/consumption?{query}")["rows"]
    return found


def grams(amount: dict[str, Any]) -> Decimal:
    return Decimal(amount["value"]) / (1000 if amount["unit"] == "mg" else 1)


def chlorine(api: Api, by: str = "material") -> tuple[Decimal, Decimal]:
    """Grams of chlorine poured away before and after neutralising, over all rows."""
    found = [row for row in rows(api, by) if row["material"] == "bleach"]
    assert {row["substance"] for row in found} == {"chlorine"}
    names = ("active_mass_discharged", "active_mass_after_neutralising")
    before, after = (sum((grams(row[name]) for row in found), Decimal(0)) for name in names)
    return before, after


def test_a_bath_that_nobody_neutralised_is_poured_away_whole(api: Api, database: Database) -> None:
    dipped(api, database)
    before, after = chlorine(api)
    # 2700 mg/L in 40 L are 108 g; the sheet rounds what is measured by at most a tenth.
    assert before == after
    assert 97 < before < 119


# 140 g of thiosulfate pentahydrate take 20 g of chlorine for sure: 2 x 248.18 / 70.906 = 7.0 g for a gram, by
# the equation to tetrathionate (textbook iodometry). The day of the dip is counted anew, two days later.
def test_the_neutraliser_of_a_later_day_lessens_the_day_of_the_dip(api: Api, database: Database) -> None:
    treatment, batches = dipped(api, database)
    work_done(database)
    before, _ = chlorine(api)
    neutralised(api, treatment, batches, 140)
    assert chlorine(api) == (before, before - 20)
    (dip_day,) = [row for row in rows(api, "day") if row["material"] == "bleach"]
    assert dip_day["key"] == {"day": day(DIPPED).date().isoformat()}
    work_done(database)
    with database.reading() as session:
        assert rollup_differs(session) == []
    for by in ("material", "day", "month", "protocol", "lot", "supplier"):
        assert chlorine(api, by) == (before, before - 20)


def test_more_than_enough_leaves_nothing(api: Api, database: Database) -> None:
    treatment, batches = dipped(api, database)
    neutralised(api, treatment, batches, 900)  # takes 128 g, more than the 108 g
    assert chlorine(api)[1] == 0
    assert chlorine(api)[0] > 0


def test_a_neutraliser_that_was_reversed_took_nothing(api: Api, database: Database) -> None:
    treatment, batches = dipped(api, database)
    neutralised(api, treatment, batches, 140)
    work_done(database)
    (line,) = [
        item
        for item in api.grower.seen("/stock-entries?material=thiosulfate")["items"]
        if item["reason"] == "neutralise"
    ]
    api.manager.made(f"/stock-entries/{line['id']}/reversal", {"reason": "was another bucket"})
    before, after = chlorine(api)
    assert before == after
    work_done(database)
    with database.reading() as session:
        assert rollup_differs(session) == []


def test_copper_is_poured_away_whole(api: Api, database: Database) -> None:
    shelf(api)
    course(api, tub(database, "T1"), [lot(api)])
    (found,) = rows(api)
    # 0.4 mg/L in 40 L: 16 mg; no agent on record takes copper away.
    assert found["substance"] == "copper"
    for name in ("active_mass", "active_mass_discharged", "active_mass_after_neutralising"):
        assert found[name] == {"value": "16", "unit": "mg"}


@pytest.mark.parametrize("by", ["lot", "material"])
def test_the_neutraliser_itself_counts_whole(api: Api, database: Database, by: str) -> None:
    treatment, batches = dipped(api, database)
    neutralised(api, treatment, batches, 140)
    (found,) = [row for row in rows(api, by) if row["material"] == "thiosulfate"]
    assert found["active_mass_after_neutralising"] == {"value": "140", "unit": "g"}
