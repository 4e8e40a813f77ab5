"""What an archive is, and when it is refused."""

import json
from datetime import UTC, date, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.archive.rules import FORMAT, VERSION, Kind, Manifest, Part, Unfit, cell, manifest_of, value

PART = Part("lot", {"id": "id", "left": "number"}, 3, "0" * 64)
WHOLE = Manifest("0024", "2026-03-02T09:00:00Z", "https://nursery.example", 7, "c" * 64, "1" * 64, (PART,))
MOMENTS = st.datetimes(timezones=st.just(UTC))


def changed(**members: Any) -> bytes:
    return json.dumps({**json.loads(WHOLE.written()), **members}).encode()


def test_a_manifest_is_read_back_as_it_was_written() -> None:
    assert manifest_of(WHOLE.written()) == WHOLE
    assert WHOLE.tables[0].file == "tables/lot.ndjson"


@pytest.mark.parametrize(
    ("content", "code"),
    [
        (b"", "altered"),
        (b"[]", "altered"),
        (b"{}", "altered"),
        (changed(format="something else"), "no-archive"),
        (changed(version=VERSION + 1), "newer"),
        (changed(more=1), "altered"),
        (changed(tables=[{"name": "lot"}]), "altered"),
        (changed(tables=[{**json.loads(WHOLE.written())["tables"][0], "name": "../lot"}]), "altered"),
        (changed(tables=[{**json.loads(WHOLE.written())["tables"][0], "sha256": "x"}]), "altered"),
        (changed(tables=json.loads(WHOLE.written())["tables"] * 2), "altered"),
    ],
)
def test_what_is_no_manifest_is_refused(content: bytes, code: str) -> None:
    with pytest.raises(Unfit) as refusal:
        manifest_of(content)
    assert refusal.value.code == code


def test_the_format_is_the_one_that_is_documented() -> None:
    assert (FORMAT, VERSION) == ("dipledger-archive", 2)


@given(MOMENTS)
def test_a_moment_survives(moment: datetime) -> None:
    written = cell(Kind.MOMENT, moment)
    assert written.endswith("Z")
    assert value(Kind.MOMENT, written) == moment
    assert cell(Kind.MOMENT, moment.replace(tzinfo=None)) == written


@given(st.binary())
def test_bytes_survive(content: bytes) -> None:
    assert value(Kind.BYTES, cell(Kind.BYTES, content)) == content


@given(st.dates(date(2000, 1, 1), date(2099, 1, 1)))
def test_a_day_survives(day: date) -> None:
    assert value(Kind.DAY, cell(Kind.DAY, day)) == day


@given(st.one_of(st.text(), st.integers(), st.floats(allow_nan=False), st.booleans()))
def test_anything_else_survives(found: Any) -> None:
    for kind in (Kind.TEXT, Kind.NUMBER, Kind.ANSWER, Kind.ID):
        assert value(kind, json.loads(json.dumps(cell(kind, found)))) == found
    assert value(Kind.JSON, cell(Kind.JSON, json.dumps([found, None]))) == [found, None]
