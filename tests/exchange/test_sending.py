"""One POST to somebody else's server, and everything it must not do (OWASP API7, CWE-918)."""

import time
import tracemalloc
from collections.abc import Iterator, Sequence
from dataclasses import replace
from ipaddress import ip_network
from pathlib import Path

import pytest

from service.exchange.rules_address import Target
from service.exchange.sending import MOST_BYTES, Line, resolve, send
from tests.exchange.endpoints import Endpoint, certified, dripping, endpoint

HERE = Line(allowed=[ip_network("127.0.0.1/32")], deadline_s=5)
STRICT = Line(deadline_s=5)
SIGNED = {"webhook-id": "a", "webhook-signature": "v1,x"}


@pytest.fixture
def canary() -> Iterator[Endpoint]:
    """A server inside the house that nothing may ever reach."""
    with endpoint() as made:
        yield made


def test_what_is_sent_arrives_as_it_was(canary: Endpoint) -> None:
    found = send(f"http://127.0.0.1:{canary.port}/in?house=1", SIGNED, b'{"a":1}', HERE)
    assert (found.status, found.error) == (204, None)
    [got] = canary.received
    assert (got.path, got.body) == ("/in?house=1", b'{"a":1}')
    assert got.headers["Content-Type"] == "application/cloudevents+json"
    assert got.headers["webhook-signature"] == "v1,x"
    assert got.headers["Host"] == f"127.0.0.1:{canary.port}"


@pytest.mark.promise(r=24)
@pytest.mark.parametrize(
    "host",
    [
        "127.0.0.1",
        "127.1",
        "2130706433",
        "0x7f.1",
        "0177.0.0.1",
        "localhost",
        "0",
        "[::ffff:127.0.0.1]",
        "[::1]",
    ],
)
@pytest.mark.parametrize("scheme", ["http", "https"])
def test_no_way_of_writing_this_machine_reaches_it(canary: Endpoint, scheme: str, host: str) -> None:
    found = send(f"{scheme}://{host}:{canary.port}/", SIGNED, b"{}", STRICT)
    assert found.status is None
    assert found.error is not None
    assert canary.received == []


@pytest.mark.promise(r=24)
@pytest.mark.parametrize("status", [301, 302, 303, 305, 307, 308])
def test_no_redirect_is_followed(canary: Endpoint, status: int) -> None:
    there = {"Location": f"http://127.0.0.1:{canary.port}/"}
    with endpoint(lambda _: (status, there, b"")) as outside:
        assert send(f"http://127.0.0.1:{outside.port}/", SIGNED, b"{}", HERE).status == status
    assert canary.received == []


@pytest.mark.promise(r=24)
def test_a_name_that_turns_to_this_machine_at_the_second_look_is_connected_to_as_it_was_checked(
    canary: Endpoint,
) -> None:
    answers: list[Sequence[str]] = [["203.0.113.9"], ["127.0.0.1"]]
    asked: list[str] = []

    def rebinding(host: str, port: int) -> Sequence[str]:
        asked.append(host)
        return answers[len(asked) - 1]

    here = replace(STRICT, resolve=rebinding)
    url = f"https://rebinding.example:{canary.port}/"
    for _ in range(2):
        assert send(url, SIGNED, b"{}", here).status is None
    assert asked == ["rebinding.example"] * 2  # once an attempt: what is checked is what is connected to
    assert canary.received == []


def test_one_private_address_among_public_ones_is_enough_to_refuse(canary: Endpoint) -> None:
    mixed = replace(STRICT, resolve=lambda host, port: ["9.9.9.9", "127.0.0.1"])
    found = send("https://mixed.example/", SIGNED, b"{}", mixed)
    assert found.error == "The address does not lead to the public network, or not by https."


def test_tls_asks_for_the_name_and_connects_to_the_address(tmp_path: Path) -> None:
    server, client = certified("shop.example", tmp_path)
    line = replace(HERE, resolve=lambda host, port: ["127.0.0.1"], trust=client)
    with endpoint(trust=server) as shop:
        assert send(f"https://shop.example:{shop.port}/in", SIGNED, b"{}", line).status == 204
        assert shop.received[0].headers["Host"] == f"shop.example:{shop.port}"
        other = send(f"https://other.example:{shop.port}/in", SIGNED, b"{}", line)
        assert (other.status, other.error) == (None, "No answer: SSLCertVerificationError.")
        untrusted = replace(line, trust=None)
        assert send(f"https://shop.example:{shop.port}/in", SIGNED, b"{}", untrusted).status is None
        assert len(shop.received) == 1


@pytest.mark.promise(r=24)
@pytest.mark.parametrize(
    ("first", "drop"),
    [(b"", b"H"), (b"HTTP/1.1 200 OK\r\nX: ", b"x"), (b"HTTP/1.1 200 OK\r\n\r\n", b"y")],
    ids=["status", "header", "body"],
)
def test_a_server_that_drips_is_left_at_the_deadline(first: bytes, drop: bytes) -> None:
    with dripping(first, drop) as port:
        began = time.monotonic()
        found = send(f"http://127.0.0.1:{port}/", SIGNED, b"{}", replace(HERE, deadline_s=0.6))
        assert time.monotonic() - began < 2
    assert found.status in {None, 200}
    if not first.endswith(b"\r\n\r\n"):
        assert (found.status, found.error) == (None, "No answer in time.")


def test_a_hand_that_is_never_shaken_is_left_at_the_deadline() -> None:
    with dripping(b"", b"") as port:
        began = time.monotonic()
        line = replace(HERE, deadline_s=0.6)
        assert send(f"https://127.0.0.1:{port}/", SIGNED, b"{}", line).error == "No answer in time."
        assert time.monotonic() - began < 2


def test_a_name_that_takes_its_time_is_left_at_the_deadline() -> None:
    def sleeping(host: str, port: int) -> Sequence[str]:
        time.sleep(3)
        return ["127.0.0.1"]

    slow = replace(HERE, deadline_s=0.3, resolve=sleeping)
    began = time.monotonic()
    assert send("http://slow.example/", SIGNED, b"{}", slow).error == "The name did not resolve in time."
    assert time.monotonic() - began < 1


@pytest.mark.promise(r=24)
def test_a_large_answer_is_not_taken_in() -> None:
    large = b"x" * (64 * 1024 * 1024)
    with endpoint(lambda _: (200, {"Content-Encoding": "gzip"}, large)) as outside:
        tracemalloc.start()
        try:
            assert send(f"http://127.0.0.1:{outside.port}/", SIGNED, b"{}", HERE).status == 200
            _, peak = tracemalloc.get_traced_memory()
        finally:
            tracemalloc.stop()
    assert peak < 20 * MOST_BYTES


def test_nobody_there_is_an_outcome_like_any_other() -> None:
    with endpoint() as gone:
        port = gone.port
    assert (
        send(f"http://127.0.0.1:{port}/", SIGNED, b"{}", HERE).error == "No answer: ConnectionRefusedError."
    )
    nowhere = replace(HERE, resolve=lambda host, port: [])
    assert send("https://nowhere.example/", SIGNED, b"{}", nowhere).error == "The name does not resolve."
    assert send("https://user@shop.example/", SIGNED, b"{}", HERE).status is None
    with endpoint(lambda _: (429, {"Retry-After": "7"}, b"")) as busy:
        assert send(f"http://127.0.0.1:{busy.port}/", SIGNED, b"{}", HERE).retry_after == "7"


def test_the_system_resolves_what_only_looks_like_a_name() -> None:
    assert resolve("0x7f.1", 443) == ["127.0.0.1"]
    assert Target("https", "0x7f.1", 443, "/").origin == "https://0x7f.1"
