"""One request as a server hands it to the application: a prepared environment, no socket, no test client.

The test client builds an environment and wraps the answer anew for every call, which alone costs as much
as a page that asks little.
"""

from collections.abc import Callable, Iterator
from io import BytesIO
from itertools import count
from typing import TYPE_CHECKING, Any

from werkzeug.test import create_environ

if TYPE_CHECKING:
    from _typeshed.wsgi import WSGIApplication

Request = tuple[str, bytes]  # address, body
keys = count(1)


def asking(
    application: "WSGIApplication", address: str, base: str, headers: dict[str, str], status: str = "200"
) -> Callable[[], bytes]:
    """A GET of `address`, whose body comes back; RuntimeError for any answer of another status."""
    environment = create_environ(address, base, headers=headers)
    return lambda: _answer(application, dict(environment), status)


def sending(
    application: "WSGIApplication",
    requests: Iterator[Request],
    base: str,
    headers: dict[str, str],
    *,
    status: str,
    content_type: str = "application/json",
) -> Callable[[], bytes]:
    """A POST of the next of `requests`, with an idempotency key of its own; as `asking`."""
    prepared = create_environ("/", base, method="POST", headers=headers, content_type=content_type)

    def call() -> bytes:
        address, body = next(requests)
        path, _, query = address.partition("?")
        environment = prepared | {
            "PATH_INFO": path,
            "QUERY_STRING": query,
            "REQUEST_URI": address,
            "RAW_URI": address,
            "CONTENT_LENGTH": str(len(body)),
            "HTTP_IDEMPOTENCY_KEY": f"bench-{next(keys)}",
            "wsgi.input": BytesIO(body),
        }
        return _answer(application, environment, status)

    return call


def _answer(application: "WSGIApplication", environment: dict[str, Any], status: str) -> bytes:
    told: list[str] = []

    def start(line: str, _headers: Any, _error: Any = None) -> Callable[[bytes], object]:
        told.append(line)
        return told.append  # type: ignore[return-value]  # never written to

    parts = application(environment, start)
    body = b"".join(parts)
    if hasattr(parts, "close"):
        parts.close()
    if not told[0].startswith(status):
        raise RuntimeError(f"{environment['PATH_INFO']}: {told[0]}: {body[:500]!r}")
    return body
