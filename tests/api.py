"""A client of the service that holds every answer against the published OpenAPI document."""

import re
from collections.abc import Mapping
from typing import Any

import orjson
from flask import Flask
from jsonschema import Draft202012Validator
from referencing import Registry
from referencing.jsonschema import DRAFT202012
from werkzeug.exceptions import HTTPException
from werkzeug.test import TestResponse

from service.accounts.rules import Role

BASE = "/api/v1"
ARGUMENT = re.compile(r"<(?:\w+:)?(\w+)>")
ELSEWHERE = (
    "/api",
    "/console",
    "/c/",
    "/.well-known",
    "/openapi",
    "/docs",
    "/healthz",
    "/readyz",
    "/metrics",
)


class Api:
    """The service as each role sees it."""

    def __init__(self, app: Flask, contract: "Contract", tokens: Mapping[Role, str]) -> None:
        self.app = app
        self.tokens = tokens
        self._contract = contract
        self.owner = Client(app, contract, tokens[Role.OWNER])
        self.manager = Client(app, contract, tokens[Role.MANAGER])
        self.grower = Client(app, contract, tokens[Role.GROWER])
        self.seller = Client(app, contract, tokens[Role.SELLER])
        self.shop = Client(app, contract, tokens[Role.SHOP])
        self.auditor = Client(app, contract, tokens[Role.AUDITOR])
        self.nobody = Client(app, contract, None)

    def with_token(self, secret: str) -> "Client":
        """A caller with another token."""
        return Client(self.app, self._contract, secret)


class Client:
    """One caller."""

    def __init__(self, app: Flask, contract: "Contract", token: str | None) -> None:
        self._app = app
        self._contract = contract
        self._headers = {"Authorization": f"Bearer {token}"} if token else {}

    def get(self, path: str, **headers: str) -> TestResponse:
        return self.send("GET", path, headers=headers)

    def post(self, path: str, body: Any = None, **headers: str) -> TestResponse:
        return self.send("POST", path, {} if body is None else body, headers=headers)

    def made(self, path: str, body: Any = None, **headers: str) -> Any:
        """POST that must succeed; gives the body."""
        response = self.post(path, body, **headers)
        assert response.status_code in {200, 201}, (path, response.status_code, response.get_json())
        return response.get_json()

    def seen(self, path: str) -> Any:
        """GET that must succeed; gives the body."""
        response = self.get(path)
        assert response.status_code == 200, (path, response.status_code, response.get_json(silent=True))
        return response.get_json()

    def send(
        self,
        method: str,
        path: str,
        body: Any = None,
        *,
        headers: Mapping[str, str] | None = None,
        raw: bytes | None = None,
    ) -> TestResponse:
        sent = {**self._headers, **{name.replace("_", "-"): value for name, value in (headers or {}).items()}}
        data = raw if raw is not None else (None if body is None else orjson.dumps(body))
        if data is not None:
            sent.setdefault("Content-Type", "application/json")
        address = path if path.startswith(ELSEWHERE) else BASE + path
        response = self._app.test_client().open(address, method=method, data=data, headers=sent)
        self._contract.hold(method, address, response)
        return response


class Contract:
    """The OpenAPI document of an application, to hold answers against."""

    def __init__(self, app: Flask) -> None:
        self._urls = app.url_map.bind("localhost")
        self.document = app.test_client().get("/openapi.json").get_json()
        self._registry: Registry[Any] = Registry().with_resource(
            "urn:api", DRAFT202012.create_resource(self.document)
        )

    def hold(self, method: str, address: str, response: TestResponse) -> None:
        """Fail when an answer is not what the document says."""
        operation = self._operation(method, address)
        if operation is None or response.status_code in {304, 405}:
            return
        documented = operation["responses"].get(str(response.status_code))
        assert documented is not None, f"{method} {address} answered {response.status_code}: not documented"
        if response.status_code == 204 or response.mimetype in {"text/csv", "application/pdf"}:
            return
        content = documented.get("content", {})
        assert response.mimetype in content, f"{method} {address}: {response.mimetype} is not documented"
        if response.mimetype == "application/pdf" or (response.mimetype or "").startswith("image/"):
            return
        body = response.get_json() if response.is_json else response.get_data(as_text=True)
        self._validate(content[response.mimetype]["schema"], body)

    def _validate(self, schema: Any, body: Any) -> None:
        absolute = orjson.loads(orjson.dumps(schema).replace(b'"#/', b'"urn:api#/'))
        errors = list(Draft202012Validator(absolute, registry=self._registry).iter_errors(body))
        assert not errors, [f"{list(e.absolute_path)}: {e.message}" for e in errors][:5]

    def _operation(self, method: str, address: str) -> Any:
        try:
            rule, _ = self._urls.match(address.split("?", maxsplit=1)[0], method, return_rule=True)
        except HTTPException:
            return None
        item = self.document["paths"].get(ARGUMENT.sub(r"{\1}", rule.rule))
        return None if item is None else item.get(method.lower())
