"""One request as a server hands it to the application: a prepared environment, no socket, no test client.

The test client builds an environment and wraps the answer anew for every call, which alone costs as much
as a page that asks little.
"""

from collections.abc import Callable
from contextlib import closing
from typing import TYPE_CHECKING, Any, cast

from werkzeug.test import create_environ

if TYPE_CHECKING:
    from _typeshed.wsgi import WSGIApplication


def asking(
    application: "WSGIApplication", address: str, base: str, headers: dict[str, str]
) -> Callable[[], bytes]:
    """A GET of `address`, whose body comes back; RuntimeError for any answer but 200."""
    environment = create_environ(address, base, headers=headers)

    def call() -> bytes:
        told: list[str] = []

        def start(status: str, _headers: Any, _error: Any = None) -> Callable[[bytes], object]:
            told.append(status)
            return told.append  # type: ignore[return-value]  # never written to

        parts = application(dict(environment), start)
        with closing(cast(Any, parts)):
            body = b"".join(parts)
        if not told[0].startswith("200"):
            raise RuntimeError(f"{address}: {told[0]}")
        return body

    return call
