"""Numbers of statements as people type them, and who asked for too many that are none."""

from datetime import UTC, datetime, timedelta

import pytest

from service.clearance.rules_checking import WINDOW, closed_until, place_of, serial_of
from service.core.ids import new_serial

NOW = datetime(2026, 3, 20, 9, tzinfo=UTC)


def test_a_number_is_read_as_it_was_meant() -> None:
    """Crockford's base32: I and L are 1, O is 0, hyphens and case do not matter."""
    serial = new_serial()
    typed = serial.lower().replace("1", "l").replace("0", "o")
    assert serial_of(f" {typed[:5]}-{typed[5:]} ") == serial


@pytest.mark.parametrize("asked", ["", "1", "U" * 26, "0" * 25, "0" * 27, "0" * 25 + "\0", "٠" * 26])
def test_what_is_no_number_is_not_looked_up(asked: str) -> None:
    assert serial_of(asked) is None


@pytest.mark.parametrize(
    ("address", "place"),
    [
        ("192.0.2.7", "192.0.2.7"),
        ("::ffff:192.0.2.7", "192.0.2.7"),
        ("2001:db8:1:2:3:4:5:6", "2001:db8:1:2::/64"),
        ("fe80::1%eth0", "fe80::/64"),
        ("", ""),
        (None, ""),
        ("unix", ""),
    ],
)
def test_a_place_is_an_address_or_the_part_that_a_user_cannot_choose(address: str | None, place: str) -> None:
    """RFC 4291, sections 2.5.4 and 2.5.5.2; documentation addresses of RFC 5737 and RFC 3849."""
    assert place_of(address) == place


def test_the_wait_lasts_until_the_oldest_of_too_many_is_past() -> None:
    misses = [NOW - timedelta(minutes=age) for age in (1, 14, 5, 16)]
    assert closed_until(misses, 4, NOW) is None
    assert closed_until(misses, 3, NOW) == NOW - timedelta(minutes=14) + WINDOW
    assert closed_until(misses, 1, NOW) == NOW - timedelta(minutes=1) + WINDOW
