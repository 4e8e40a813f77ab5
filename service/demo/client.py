"""A client of the service that needs nothing but the standard library."""

import json
import time
import urllib.error
import urllib.request
from typing import Any

from service.core.ids import new_id


class Refusal(Exception):
    """The service refused; `body` is its problem document."""

    def __init__(self, status: int, body: Any) -> None:
        super().__init__(f"{status}: {body.get('detail')} {body.get('errors', '')}")
        self.status = status
        self.body = body


class Client:
    """One caller with one token."""

    def __init__(self, address: str, token: str) -> None:
        """Speak to the service at `address`."""
        self.address = address
        self._token = token

    def get(self, path: str) -> Any:
        """Read; raises Refusal."""
        return self._send("GET", path, None, {})[0]

    def post(self, path: str, body: Any = None, **headers: str) -> Any:
        """Act, with a fresh idempotency key; raises Refusal."""
        return self._send("POST", path, body or {}, {"Idempotency-Key": new_id(), **headers})[0]

    def patch(self, path: str, body: Any) -> Any:
        """Change the version that stands there now; raises Refusal."""
        tag = self._send("GET", path, None, {})[1]
        return self._send("PATCH", path, body, {"If-Match": tag})[0]

    def decide(self, lot: str) -> Any:
        """Ask for the clearance of a lot on its present version; raises Refusal."""
        tag = self._send("GET", f"/lots/{lot}", None, {})[1]
        return self.post(f"/lots/{lot}/clearance", {}, **{"If-Match": tag})

    def wait_until_up(self, seconds: float) -> None:
        """Wait until the service answers; raises TimeoutError."""
        deadline = time.monotonic() + seconds
        while time.monotonic() < deadline:
            try:
                with urllib.request.urlopen(f"{self.address}/healthz", timeout=2):  # noqa: S310  # our own address
                    return
            except OSError:
                time.sleep(0.1)
        raise TimeoutError("The service did not start.")

    def _send(self, method: str, path: str, body: Any, headers: dict[str, str]) -> tuple[Any, str]:
        data = None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(f"{self.address}/api/v1{path}", data, method=method)  # noqa: S310  # as above
        request.add_header("Authorization", f"Bearer {self._token}")
        request.add_header("Content-Type", "application/json")
        for name, value in headers.items():
            request.add_header(name, value)
        try:
            with urllib.request.urlopen(request, timeout=30) as response:  # noqa: S310  # as above
                return json.load(response), response.headers.get("ETag", "")
        except urllib.error.HTTPError as error:
            with error:
                raise Refusal(error.code, json.load(error)) from None
