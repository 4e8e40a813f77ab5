"""The sampling plan over HTTP; the figures are held against the literature in tests/science."""

from urllib.parse import urlencode

import pytest

from tests.api import Api

PLAN = {"lot_size": "200", "detection_level": "0.05", "confidence": "0.95", "sensitivity": "1"}


def plan(**changes: str) -> str:
    return "/sampling-plan?" + urlencode({**PLAN, **changes})


def test_the_plan_of_the_standard(api: Api) -> None:
    shown = api.auditor.seen(plan())
    # ISPM 31 table 1: lot of 200, 5 %, 95 %: 51 (recalled and recomputed)
    assert shown["sample_size"] == 51
    assert shown["infested_units_assumed"] == 10
    assert shown["reachable"] is True
    assert shown["looks_needed"] == 1
    # the chance of finding none is 0.048621 (exact hypergeometric)
    assert shown["achieved_confidence"] == pytest.approx(1 - 0.048621, abs=1e-6)
    assert shown["minutes"] == 39  # 51 x 45 s, own assumption
    assert shown["source"].startswith("ISPM 31")


def test_a_look_at_all_is_repeated_where_one_is_not_enough(api: Api) -> None:
    # census rounds for one infested unit: sensitivity 0.6 and 95 % need four looks
    shown = api.auditor.seen(plan(lot_size="20", detection_level="0.05", sensitivity="0.6"))
    assert (shown["sample_size"], shown["reachable"], shown["looks_needed"]) == (20, False, 4)
    assert shown["minutes"] == 60


def test_less_than_one_infested_unit_counts_as_one(api: Api) -> None:
    shown = api.auditor.seen(plan(lot_size="10", detection_level="0.01"))
    assert shown["infested_units_assumed"] == 1  # decision 26


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("lot_size", "0"),
        ("lot_size", "10000001"),
        ("lot_size", "4.5"),
        ("detection_level", "0"),
        ("detection_level", "1.1"),
        ("confidence", "1"),
        ("confidence", "0"),
        ("sensitivity", "0"),
        ("sensitivity", "1.1"),
        ("sensitivity", "nan"),
        ("surprise", "1"),
    ],
)
def test_figures_that_make_no_plan_are_refused_by_name(api: Api, name: str, value: str) -> None:
    answer = api.auditor.get(plan(**{name: value}))
    assert answer.status_code == 422
    assert [error["pointer"] for error in answer.get_json()["errors"]] == [f"#/query/{name}"]
