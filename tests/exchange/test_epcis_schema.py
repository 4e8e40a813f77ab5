"""Our narrow schema finds what EPCIS does not allow, or the tests that lean on it prove little."""

from typing import Any

import pytest

from service.exchange.rules_epcis import document
from tests.exchange.epcis_schema import faults
from tests.exchange.test_rules_epcis import AT, SENT, A, T, moved, said


@pytest.mark.parametrize(
    "broken",
    [
        {"bizStep": "quarantining"},
        {"bizStep": "https://ref.gs1.org/cbv/BizStep-quarantining"},
        {"disposition": "clean"},
        {"eventTimeZoneOffset": "CET"},
        {"eventTime": "yesterday"},
        {"eventID": "one two"},
        {"action": "CHANGE"},
        {"quantityList": [{"epcClass": "lot 1"}]},
        {"persistentDisposition": {"set": ["gone fishing"]}},
        {"errorDeclaration": {"reason": "did_not_occur"}},
        {"bizTransactionList": [{"type": "receipt", "bizTransaction": "urn:x:1"}]},
        {"colour": "green"},
    ],
    ids=str,
)
def test_the_schema_finds_what_is_no_epcis(broken: dict[str, Any]) -> None:
    event = said(SENT)
    assert faults(document([{**event, **broken}], AT))
    del event["eventTimeZoneOffset"]
    assert faults(document([event], AT))


def test_the_schema_finds_an_aggregation_without_its_parent() -> None:
    [event] = moved({A: None}, T)
    assert faults(document([{**event, "persistentDisposition": {"set": ["unavailable"]}}], AT))
    del event["parentID"]
    assert faults(document([event], AT))
