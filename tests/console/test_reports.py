"""Reports as pictures and tables, with the very same numbers as the interface and the CSV."""

import csv
import io

import pytest

from tests.api import Api
from tests.make_house import House
from tests.make_people import Browser, shown_text


def test_what_was_used_is_that_of_the_interface(owner: Browser, api: Api, house: House) -> None:
    bench = house.bench
    bench.batch("salt", 500, "g", cost={"value": "12.00", "currency": "EUR"})
    days = f"from={bench.when(0)['at'][:10]}"
    rows = api.grower.seen(f"/reports/consumption?{days}")["rows"]
    text = shown_text(owner.seen(f"/console/reports/consumption?{days}"))
    assert rows
    for row in rows:
        assert row["material"] in text
        assert f"{float(row['used']['value']):,.10g}" in text
    file = owner.open(f"/console/reports/consumption.csv?{days}")
    assert file.content_type == "text/csv; charset=utf-8"
    told = list(csv.DictReader(io.StringIO(owner.page)))
    assert [one["material"] for one in told] == [row["material"] for row in rows]


def test_costs_are_drawn(owner: Browser, api: Api, house: House) -> None:
    bench = house.bench
    cost = {"value": "20.00", "currency": "EUR"}
    batch = bench.batch("thiosulfate", 100, "g", cost=cost, batch_number="T-9")
    body = {"batch_id": batch["id"], "quantity": {"value": 25, "unit": "g"}, "way": "hazardous_waste"}
    api.grower.made("/stock-disposals", {**body, "reason": "damp"})
    page = owner.seen("/console/reports/losses")
    # A quarter of what cost 20.00 was thrown away.
    assert "5.00 EUR" in shown_text(page)
    assert '<svg class="plot"' in page
    assert "hazardous waste collection" in page
    assert "Nothing of the kind" in owner.seen("/console/reports/losses?material=salt")


@pytest.mark.parametrize("by", ["protocol", "plant", "supplier", "pest", "month"])
def test_what_became_of_lots(owner: Browser, api: Api, house: House, by: str) -> None:
    [*rows] = api.grower.seen(f"/reports/outcomes?by={by}")["rows"]
    page = owner.seen(f"/console/reports/outcomes?by={by}")
    assert sum(row["lots"] for row in rows) > 0
    assert page.count("<tr>") == len(rows) + 1
    # Fewer than ten lots of each: counts, no per cent (decision 31).
    assert "%" not in shown_text(page[page.index("<table") :])


@pytest.mark.parametrize("by", ["material", "protocol", "lot", "supplier", "day", "week", "month"])
def test_what_was_used_is_shown_by_each(owner: Browser, house: House, by: str) -> None:
    since = house.bench.when(0)["at"][:10]
    page = owner.seen(f"/console/reports/consumption?from={since}&by={by}")
    assert "copper-stock" in page


def test_days_that_cannot_be_are_named(owner: Browser) -> None:
    page = owner.seen("/console/reports/outcomes?from=2030-02-01&to=2030-01-01")
    assert "from must not be after to." in shown_text(page)


def test_another_report_is_not_there(owner: Browser) -> None:
    assert owner.open("/console/reports/gossip.csv").status_code == 404


def test_every_report_is_found_from_the_page_of_reports(owner: Browser) -> None:
    page = owner.seen("/console/reports")
    for name in ("consumption", "losses", "outcomes"):
        assert f'href="/console/reports/{name}"' in page
        assert "Nothing of the kind in these days." in owner.seen(f"/console/reports/{name}")
