"""Which networks of one's own events may be sent to is a setting."""

from ipaddress import ip_network
from pathlib import Path

import pytest

from service.core.settings import SettingsProblem, read_settings


@pytest.fixture(autouse=True)
def house(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setenv("DIPLEDGER_HOME", str(tmp_path))
    monkeypatch.setenv("DIPLEDGER_SECRET_KEY", "a-long-secret-of-the-tests-0123456789")


@pytest.mark.promise(r=27)
@pytest.mark.parametrize(
    ("said", "allowed"),
    [
        (None, ()),
        ("", ()),
        ("192.168.7.20/32", (ip_network("192.168.7.20/32"),)),
        ("192.168.7.20, fd00:7::/64", (ip_network("192.168.7.20/32"), ip_network("fd00:7::/64"))),
    ],
)
def test_none_unless_it_is_said(
    said: str | None, allowed: tuple[object, ...], monkeypatch: pytest.MonkeyPatch
) -> None:
    if said is None:
        monkeypatch.delenv("DIPLEDGER_WEBHOOK_ALLOW", raising=False)
    else:
        monkeypatch.setenv("DIPLEDGER_WEBHOOK_ALLOW", said)
    assert read_settings().webhook_allow == allowed


@pytest.mark.parametrize("said", ["shop.lan", "192.168.7.20/16", "10.0.0.0/33"])
def test_what_is_no_network_stops_the_start(said: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("DIPLEDGER_WEBHOOK_ALLOW", said)
    with pytest.raises(SettingsProblem, match="WEBHOOK_ALLOW"):
        read_settings()
