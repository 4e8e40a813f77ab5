"""How long a certificate and a cleared lot stand, and which figures a policy may have."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import pytest

from service.clearance.rules_status import good_until, policy_reasons, speaking, status_of
from service.reference.loader import shipped

START = datetime(2026, 3, 2, 9, tzinfo=UTC)


def day(days: float) -> datetime:
    return START + timedelta(days=days)


@pytest.mark.parametrize(
    ("stored", "expires", "held", "status"),
    [
        ("valid", 1, False, "valid"),
        ("valid", 1, True, "suspended"),
        ("valid", 0, True, "expired"),
        ("valid", -1, False, "expired"),
        ("revoked", 1, True, "revoked"),
        ("superseded", -1, False, "superseded"),
    ],
)
def test_the_status_of_a_certificate_is_that_of_the_day(
    stored: str, expires: float, held: bool, status: str
) -> None:
    assert status_of(stored, day(expires), day(0), held=held) == status


STANDARD = shipped().policies["standard"]


@pytest.mark.parametrize(
    ("section", "changes", "pointer"),
    [
        ("scope", {"pests": ("bladder_snail", "unicorn")}, "#/scope/pests"),
        ("scope", {"pests": ()}, "#/scope/pests"),
        ("sampling", {"confidence": 1.0}, "#/sampling/confidence"),
        ("sampling", {"confidence": 0.0}, "#/sampling/confidence"),
        ("sampling", {"detection_level": 0.0}, "#/sampling/detection_level"),
        ("sampling", {"eyes_sensitivity": 0.0}, "#/sampling/eyes_sensitivity"),
        ("hatch", {"factor_treated": 0.9}, "#/hatch/factor_treated"),
        ("hatch", {"factor_untreated": 1.4}, "#/hatch/factor_untreated"),
    ],
)
def test_figures_that_cannot_be_used_are_named(section: str, changes: Any, pointer: str) -> None:
    odd = replace(STANDARD, **{section: replace(getattr(STANDARD, section), **changes)})
    assert [reason.pointer for reason in policy_reasons(odd, shipped().pests)] == [pointer]


def test_the_shipped_policies_can_be_used() -> None:
    for policy in shipped().policies.values():
        assert policy_reasons(policy, shipped().pests) == []


def test_a_lot_is_good_until_the_first_of_certificate_and_last_look() -> None:
    two_weeks = timedelta(days=14)
    assert good_until(day(30), [day(2), day(9)], day(10), two_weeks) == day(23)
    assert good_until(day(20), [day(9)], day(10), two_weeks) == day(20)
    assert good_until(day(30), [], day(10), two_weeks) == day(10)
    assert speaking([day(1)], [{"gate": "residue"}], day(10)) == [day(1)]
    assert speaking([day(1)], [{"gate": "clean_inspections"}], day(10)) == [day(1), day(10)]
