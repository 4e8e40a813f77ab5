"""Where events may be sent: which addresses are no way into somebody's private network.

The text of an address proves nothing (the resolver turns `127.1` and `0x7f.1` into 127.0.0.1), so what is
judged is what it resolves to, at every attempt anew (OWASP API Security Top 10 2023, API7).
"""

import re
from collections.abc import Sequence
from dataclasses import dataclass
from ipaddress import IPv4Address, IPv4Network, IPv6Address, IPv6Network, ip_address, ip_network
from urllib.parse import urlsplit

from service.core.reasons import Reason

Address = IPv4Address | IPv6Address
Networks = Sequence[IPv4Network | IPv6Network]

URI = re.compile(r"^[A-Za-z0-9\-._~:/?#\[\]@!$&'()*+,;=%]+$")  # RFC 3986, section 2
HOST = re.compile(r"^[A-Za-z0-9]([A-Za-z0-9.-]{0,251}[A-Za-z0-9])?\.?$")
PORTS = {443, 8443}
DEFAULT_PORTS = {"https": 443, "http": 80}
UNICAST_6 = IPv6Network("2000::/3")  # all that IANA has given out as global unicast
NAT64 = IPv6Network("64:ff9b::/96")  # RFC 6052
COMPATIBLE = IPv6Network("::/96")  # RFC 4291, section 2.5.5.1, no longer used
# Beside what `is_global` knows (the IANA special-purpose registries at the time of the Python release).
NOT_PUBLIC = (
    ip_network("192.0.0.0/24"),  # RFC 6890, protocol assignments
    ip_network("192.88.99.0/24"),  # RFC 7526, once 6to4 relays
    ip_network("2001::/23"),  # RFC 2928, protocol assignments, Teredo among them
    ip_network("3fff::/20"),  # RFC 9637, documentation
)


@dataclass(frozen=True)
class Target:
    """The parts of an address that events are sent to."""

    scheme: str
    host: str
    port: int
    path: str

    @property
    def origin(self) -> str:
        """Scheme, host and port: what may be shown of an address, since its path may hold a secret."""
        host = f"[{self.host}]" if ":" in self.host else self.host
        standard = self.port == DEFAULT_PORTS[self.scheme]
        return f"{self.scheme}://{host}" if standard else f"{self.scheme}://{host}:{self.port}"


def target_of(url: str) -> Target | None:
    """The parts of an http or https address without user, password and fragment; None for any other text."""
    if not URI.fullmatch(url):
        return None
    try:
        parts = urlsplit(url)
        port = parts.port
    except ValueError:
        return None
    host = parts.hostname or ""
    named = HOST.fullmatch(host) or _literal(host) is not None
    if parts.scheme not in DEFAULT_PORTS or not named or "@" in parts.netloc or "#" in url or port == 0:
        return None
    path = (parts.path or "/") + (f"?{parts.query}" if parts.query else "")
    return Target(parts.scheme, host.rstrip("."), port or DEFAULT_PORTS[parts.scheme], path)


def url_reasons(url: str, own_url: str, allowed: Networks) -> list[Reason]:
    """Why events may not be sent to `url`, as far as its text says; `own_url` is where this house answers."""
    target, own = target_of(url), target_of(own_url)
    if target is None:
        detail = "Not an https address like https://shop.example/events, without user, password and #."
        return [Reason("bad-address", detail, pointer="#/url")]
    if own is not None and (target.host, target.port) == (own.host, own.port):
        return [Reason("loop", "This is the address of this house itself.", pointer="#/url")]
    literal = _literal(target.host)
    if literal is None:
        inside = bool(allowed)
    else:
        inside = is_allowed(literal, allowed)
        if not inside and not is_public(literal):
            return [_private()]
    if not inside and not suits_public(target):
        detail = f"Outside the house only https on port {' or '.join(map(str, sorted(PORTS)))}."
        return [Reason("not-https", detail, pointer="#/url")]
    return []


def suits_public(target: Target) -> bool:
    """Whether the scheme and the port may be used outside the house."""
    return target.scheme == "https" and target.port in PORTS


def connectable(target: Target, found: Sequence[str], allowed: Networks) -> bool:
    """Whether one may connect to a target that resolves to these addresses: every one of them must do."""
    addresses = [address for address in map(_literal, found) if address is not None]
    if not addresses or len(addresses) != len(found):
        return False
    return all(
        is_allowed(address, allowed) or (is_public(address) and suits_public(target)) for address in addresses
    )


def is_public(address: Address) -> bool:
    """Whether an address is of the public network, and so is every IPv4 address that is wrapped in it."""
    wrapped = inner(address)
    if wrapped is not None:
        return is_public(wrapped)
    if isinstance(address, IPv6Address) and address not in UNICAST_6:
        return False
    special = any(address in network for network in NOT_PUBLIC if network.version == address.version)
    return address.is_global and not address.is_multicast and not special


def is_allowed(address: Address, allowed: Networks) -> bool:
    """Whether the house said that this address, or the IPv4 address wrapped in it, is a shop of its own."""
    found = inner(address) or address
    return any(found in network for network in allowed if network.version == found.version)


def inner(address: Address) -> IPv4Address | None:
    """The IPv4 address that an IPv6 address is another way of writing: mapped, 6to4, NAT64 or compatible."""
    if isinstance(address, IPv4Address):
        return None
    embedded = address.ipv4_mapped or address.sixtofour
    if embedded is None and (address in NAT64 or address in COMPATIBLE):
        embedded = IPv4Address(int(address) & 0xFFFFFFFF)
    return embedded


def _literal(text: str) -> Address | None:
    try:
        return ip_address(text.partition("%")[0])
    except ValueError:
        return None


def _private() -> Reason:
    detail = "This address is not of the public network; DIPLEDGER_WEBHOOK_ALLOW can name a shop of your own."
    return Reason("private-address", detail, pointer="#/url")
