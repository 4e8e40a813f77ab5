"""One request as a server hands it to the application: a prepared environment, no socket, no test client.

The test client builds an environment and wraps the answer anew for every call, which alone costs as much
as a page that asks little.
"""

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

from werkzeug.test import create_environ

if TYPE_CHECKING:
    from _typeshed.wsgi import WSGIApplication


def asking(
    application: "WSGIApplication", address: str, base: str, headers: dict[str, str], status: str = "200"
) -> Callable[[], bytes]:
    """A GET of `address`, whose body comes back; RuntimeError for any answer of another status."""
    environment = create_environ(address, base, headers=headers)

    def call() -> bytes:
        told: list[str] = []

        def start(line: str, _headers: Any, _error: Any = None) -> Callable[[bytes], object]:
            told.append(line)
            return told.append  # type: ignore[return-value]  # never written to

        parts = application(dict(environment), start)
        body = b"".join(parts)
        if hasattr(parts, "close"):
            parts.close()
        if not told[0].startswith(status):
            raise RuntimeError(f"{address}: {told[0]}")
        return body

    return call
