"""Speaking to the nursery's Dipledger: one call, what it answered, and when to ask again."""

import http.client
import json
import urllib.error
import urllib.request
from typing import Any

AGAIN = {408, 412, 425, 429, 500, 502, 503, 504}  # 412: somebody else changed it at the same moment
TIMEOUT_S = 10


class Away(Exception):
    """Nobody answered, or not now; the same call may be made again, with the same key."""


class Nursery:
    """The interface of one house, by a token of the role `shop`."""

    def __init__(self, address: str, token: str) -> None:
        """`address` ends with /api/v1."""
        self._address, self._token = address, token

    def get(self, path: str) -> tuple[int, Any]:
        """Read; gives status and body. Raises Away."""
        return self._call("GET", path, None, {})

    def post(self, path: str, body: Any, key: str) -> tuple[int, Any]:
        """Act, once for each key however often it is sent; gives status and body. Raises Away."""
        return self._call("POST", path, body, {"Idempotency-Key": key})

    def _call(self, method: str, path: str, body: Any, headers: dict[str, str]) -> tuple[int, Any]:
        data = None if body is None else json.dumps(body).encode()
        request = urllib.request.Request(self._address + path, data, method=method)
        sent = {"Authorization": f"Bearer {self._token}", "Content-Type": "application/json", **headers}
        for name, value in sent.items():
            request.add_header(name, value)
        try:
            status, answer = _answered(request)
        except (OSError, http.client.HTTPException, ValueError) as problem:
            raise Away(str(problem)) from problem
        in_progress = status == 409 and answer.get("type", "").endswith("idempotency-in-progress")
        if status in AGAIN or in_progress:
            raise Away(f"{status} {answer.get('detail', '')}")
        return status, answer


def _answered(request: urllib.request.Request) -> tuple[int, Any]:
    try:
        with urllib.request.urlopen(request, timeout=TIMEOUT_S) as answer:
            return answer.status, json.load(answer)
    except urllib.error.HTTPError as refusal:
        with refusal:
            return refusal.code, json.load(refusal)
