"""Passwords and waits after failures, as OWASP ASVS 5.0 (6.2, 6.3) asks for them."""

from datetime import UTC, datetime, timedelta

import pytest

from service.accounts import rules_people as rules

NOW = datetime(2026, 3, 2, 9, tzinfo=UTC)


def before(*minutes: float) -> list[datetime]:
    return [NOW - timedelta(minutes=minute) for minute in minutes]


@pytest.mark.parametrize(
    "password",
    [
        "elf signs a",
        "a" * 257,
        "abababababababab",
        "Ines Ines Ines Ines",
        "Password123456",
        "dipledger-nursery",
    ],
)
def test_what_everybody_tries_first_is_no_password(password: str) -> None:
    assert [reason.code for reason in rules.password_reasons(password, "Ines")] == ["weak-password"]


@pytest.mark.parametrize("password", ["seven wet stones in a row", "ünïcödé tüb wäter", "x7 Kp9-2mQz!v"])
def test_length_is_what_counts_not_kinds_of_signs(password: str) -> None:
    assert rules.password_reasons(password, "Ines") == []


def test_a_person_without_a_name_is_judged_by_the_password_alone() -> None:
    assert rules.password_reasons("seven wet stones in a row", "") == []


def test_four_failures_cost_nothing() -> None:
    assert rules.wait_until(before(4, 3, 2, 1), NOW) is None


@pytest.mark.promise(r=22)
@pytest.mark.parametrize(("failures", "minutes"), [(5, 1), (6, 2), (7, 4), (10, 32), (11, 60), (40, 60)])
def test_each_further_failure_doubles_the_wait_up_to_an_hour(failures: int, minutes: int) -> None:
    assert rules.wait_until([NOW] * failures, NOW) == NOW + timedelta(minutes=minutes)


def test_the_wait_ends() -> None:
    assert rules.wait_until(before(1.1, 1.1, 1.1, 1.1, 1.1), NOW) is None


def test_failures_long_ago_do_not_count() -> None:
    assert rules.wait_until(before(400, 399, 398, 397, 0), NOW) is None


def test_an_address_may_fail_twenty_times_in_a_quarter_of_an_hour() -> None:
    assert rules.address_wait_until(before(*[10] * 19), NOW) is None
    assert rules.address_wait_until(before(*[10] * 20), NOW) == NOW + timedelta(minutes=5)


def test_a_session_ends_when_idle_and_after_a_week() -> None:
    hour = timedelta(hours=1)
    assert rules.lives(NOW, NOW, NOW + 11 * hour)
    assert not rules.lives(NOW, NOW, NOW + 12 * hour)
    assert not rules.lives(NOW, NOW + 167 * hour, NOW + 168 * hour)


def test_a_time_step_is_thirty_seconds() -> None:
    # RFC 6238, appendix B: 59 s after the epoch is step 1, 1111111109 s is step 0x23523EC.
    assert rules.totp_step(datetime.fromtimestamp(59, UTC)) == 1
    assert rules.totp_step(datetime.fromtimestamp(1111111109, UTC)) == 0x23523EC
