"""Temperatures: a series is kept whole or not at all; a wrong reading is voided, never changed."""

from typing import Any

import pytest

from service.core.db import Database
from tests.journeys.bench import Bench
from tests.unchanged import unchanged


@pytest.fixture
def path(bench: Bench) -> str:
    return f"/tubs/{bench.tub('T1')}/temperatures"


def reading(bench: Bench, day: float, value: float, unit: str = "Cel") -> dict[str, Any]:
    return {"at": bench.when(day)["at"], "value": value, "unit": unit}


def test_one_reading_and_a_series_are_kept(bench: Bench, path: str) -> None:
    bench.api.grower.made(path, {"value": 21.5, "unit": "Cel"})
    series = [reading(bench, 1, 70, "[degF]"), reading(bench, 2, 22)]
    told = bench.api.grower.made(path, {"readings": series, "late_reason": "read out on Monday"})
    assert (told["recorded"], told["repeated"]) == (2, 0)
    kept = [item["value"] for item in bench.api.auditor.seen(path)["items"]]
    assert kept == pytest.approx([(70 - 32) / 1.8, 22, 21.5], abs=0.001)


def test_a_period_of_them_is_listed(bench: Bench, path: str) -> None:
    series = [reading(bench, day, 20 + day) for day in (1, 2, 3)]
    bench.api.grower.made(path, {"readings": series, "logger": True})
    shown = bench.api.grower.seen(f"{path}?from={bench.when(2)['at']}&to={bench.when(3)['at']}")["items"]
    assert [item["value"] for item in shown] == [22, 23]


def test_the_same_again_is_nothing_new_and_another_value_is_refused(bench: Bench, path: str) -> None:
    body = {"readings": [reading(bench, 1, 21)], "logger": True}
    bench.api.grower.made(path, body)
    assert bench.api.grower.made(path, body)["repeated"] == 1
    answer = bench.api.grower.post(path, {"readings": [reading(bench, 1, 24)], "logger": True})
    assert answer.status_code == 409
    assert answer.get_json()["reasons"][0]["code"] == "reading-differs"


def test_a_csv_file_of_a_logger_is_kept(bench: Bench, path: str) -> None:
    lines = ["at,value", *(f"{bench.when(day)['at']},{20 + day}" for day in (1, 2))]
    raw = "\ufeff".encode() + "\r\n".join(lines).encode()
    answer = bench.api.grower.send("POST", path, raw=raw, headers={"Content-Type": "text/csv"})
    assert answer.status_code == 201
    assert answer.get_json()["recorded"] == 2


@pytest.mark.parametrize(
    ("body", "pointer"),
    [
        ({"readings": []}, "#/readings"),
        ({"value": 21}, "#/unit"),
        ({"unit": "Cel"}, "#/value"),
        ({"value": 46, "unit": "Cel"}, "#/value"),
        ({"value": 21, "unit": "K"}, "#/unit"),
        ({"value": "21", "unit": "Cel"}, "#/value"),
        ({"value": 21, "unit": "Cel", "at": "2026-03-02"}, "#/at"),
        ({"value": 21, "unit": "Cel", "at": "2099-03-02T09:00:00Z"}, "#/at"),
        ({"readings": [{"at": "2026-03-02T09:00:00Z", "value": 21}]}, "#/readings/0/unit"),
        (
            {
                "value": 21,
                "unit": "Cel",
                "readings": [{"at": "2026-03-02T09:00:00Z", "value": 1, "unit": "Cel"}],
            },
            "#/readings",
        ),
    ],
)
def test_a_bad_reading_is_named_and_nothing_is_kept(
    bench: Bench, path: str, database: Database, body: dict[str, Any], pointer: str
) -> None:
    with unchanged(database):
        answer = bench.api.grower.post(path, body)
    assert answer.status_code == 422
    assert [error["pointer"] for error in answer.get_json()["errors"]] == [pointer]


@pytest.mark.parametrize(
    ("lines", "pointer"),
    [
        (["time,degrees"], "#/lines/1"),
        (["at,value", "yesterday,21"], "#/lines/2"),
        (["at,value", "2026-03-02T09:00:00Z,1_0"], "#/lines/2"),
        (["at,value", "2026-03-02T09:00:00Z,21,Cel"], "#/lines/2"),
        (["at,value,unit", "2026-03-02T09:00:00Z,21,mL"], "#/lines/2"),
        (["at,value", '"2026-03-02T09:00:00Z,21'], "#/lines/2"),
        (["at,value"], "#/lines/1"),
    ],
)
def test_a_bad_line_of_a_file_is_named(bench: Bench, path: str, lines: list[str], pointer: str) -> None:
    raw = "\n".join(lines).encode()
    answer = bench.api.grower.send("POST", path, raw=raw, headers={"Content-Type": "text/csv"})
    assert answer.status_code == 422
    assert answer.get_json()["errors"][0]["pointer"] == pointer


def test_a_wrong_reading_is_voided_with_a_reason_and_may_be_entered_again(bench: Bench, path: str) -> None:
    bench.api.grower.made(path, {"readings": [reading(bench, 1, 12)], "logger": True})
    [kept] = bench.api.grower.seen(path)["items"]
    voided = bench.api.grower.made(f"/temperatures/{kept['id']}/void", {"reason": "the probe lay dry"})
    assert voided["void_reason"] == "the probe lay dry"
    assert bench.api.grower.post(f"/temperatures/{kept['id']}/void", {"reason": "x"}).status_code == 409
    assert bench.api.grower.made(path, {"readings": [reading(bench, 1, 22)], "logger": True})["recorded"] == 1


def test_what_is_unknown_is_not_found(bench: Bench) -> None:
    nowhere = "00000000-0000-7000-8000-000000000000"
    assert bench.api.grower.post(f"/temperatures/{nowhere}/void", {"reason": "x"}).status_code == 404
    assert bench.api.grower.get(f"/tubs/{nowhere}/temperatures").status_code == 404
