"""One POST to somebody else's server: to a checked address, no redirects, bounded in time and size."""

import contextlib
import http.client
import queue
import socket
import ssl
import threading
import time
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass

from service.exchange.rules_address import DEFAULT_PORTS, Networks, Target, connectable, target_of

DEADLINE_S = 15.0  # for all of it: name, connection, sending, answer
MOST_BYTES = 64 * 1024  # of an answer; nobody reads it, but it must be taken in politely
Resolve = Callable[[str, int], Sequence[str]]


@dataclass(frozen=True)
class Outcome:
    """How an attempt ended: the status of the answer, or why there was none."""

    status: int | None
    error: str | None = None
    retry_after: str | None = None


@dataclass(frozen=True)
class Line:
    """How the house reaches others: which private networks it may, how names resolve, whom TLS trusts."""

    allowed: Networks = ()
    resolve: Resolve | None = None
    trust: ssl.SSLContext | None = None
    deadline_s: float = DEADLINE_S


class NotSent(Exception):
    """Nothing was sent; the message says why."""


def send(url: str, headers: Mapping[str, str], body: bytes, line: Line) -> Outcome:
    """Send once; never raises for what the other side does."""
    target, until = target_of(url), time.monotonic() + line.deadline_s
    try:
        if target is None:
            raise NotSent("The address is not one that may be used.")
        addresses = _resolved(target, line, until)
        if not connectable(target, addresses, line.allowed):
            raise NotSent("The address does not lead to the public network, or not by https.")
        with _connected(target, addresses, line, until) as connected:
            return _exchange((target, until), connected, headers, body)
    except NotSent as problem:
        return Outcome(None, str(problem))
    except (OSError, ValueError, http.client.HTTPException) as problem:
        late = time.monotonic() >= until
        return Outcome(None, "No answer in time." if late else f"No answer: {type(problem).__name__}.")


def resolve(host: str, port: int) -> Sequence[str]:
    """Every address of a name, as the operating system knows it."""
    found = socket.getaddrinfo(host, port, type=socket.SOCK_STREAM)
    return list(dict.fromkeys(str(info[4][0]) for info in found))


def _resolved(target: Target, line: Line, until: float) -> Sequence[str]:
    # The system's resolver knows no deadline of ours: it is asked in a thread that may be left behind.
    answer: queue.SimpleQueue[Sequence[str]] = queue.SimpleQueue()

    def ask() -> None:
        with contextlib.suppress(OSError, UnicodeError):
            answer.put((line.resolve or resolve)(target.host, target.port))
            return
        answer.put([])

    threading.Thread(target=ask, daemon=True).start()
    try:
        found = answer.get(timeout=max(0.001, until - time.monotonic()))
    except queue.Empty:
        raise NotSent("The name did not resolve in time.") from None
    if not found:
        raise NotSent("The name does not resolve.")
    return found


@contextlib.contextmanager
def _connected(target: Target, addresses: Sequence[str], line: Line, until: float) -> Iterator[socket.socket]:
    opened = _open(target, addresses, until)
    if target.scheme == "https":
        # Not yet shaken hands: the deadline must be able to end that as well.
        trust = line.trust or ssl.create_default_context()
        opened = trust.wrap_socket(opened, server_hostname=target.host, do_handshake_on_connect=False)
    end = threading.Timer(max(0.001, until - time.monotonic()), _cut, [opened])
    end.daemon = True
    end.start()
    try:
        if isinstance(opened, ssl.SSLSocket):
            opened.do_handshake()
        yield opened
    finally:
        end.cancel()
        opened.close()


def _open(target: Target, addresses: Sequence[str], until: float) -> socket.socket:
    failed: OSError | None = None
    for address in addresses:
        try:
            return socket.create_connection((address, target.port), max(0.001, until - time.monotonic()))
        except OSError as problem:
            failed = problem
    raise failed or OSError("no address")


def _cut(opened: socket.socket) -> None:
    # The time-outs of a socket are for each read: a server that drips would keep us for ever. Past TLS, so
    # that nothing waits for the other side.
    with contextlib.suppress(OSError):
        socket.socket.shutdown(opened, socket.SHUT_RDWR)


def _exchange(
    called: tuple[Target, float], connected: socket.socket, headers: Mapping[str, str], body: bytes
) -> Outcome:
    target, until = called
    connection = http.client.HTTPConnection(target.host, target.port)
    connection.default_port = DEFAULT_PORTS[target.scheme]  # which the Host header leaves out
    connection.sock = connected
    sent = {"Content-Type": "application/cloudevents+json", "Accept-Encoding": "identity", **headers}
    connection.request("POST", target.path, body, {"Connection": "close", **sent})
    answer = connection.getresponse()
    if time.monotonic() >= until:  # cut off, which http.client takes for the end of the headers
        raise TimeoutError
    with contextlib.suppress(OSError, http.client.HTTPException):
        answer.read(MOST_BYTES)
    return Outcome(answer.status, None, answer.headers.get("Retry-After"))
