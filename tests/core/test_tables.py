"""Every list can be had as a table."""

from collections.abc import Iterator

from flask import Flask

from tests.api import Api, Contract
from tests.make_house import a_house


def lists(contract: Contract) -> Iterator[str]:
    """The addresses, without a thing named in them, that answer a list."""
    schemas = contract.document["components"]["schemas"]
    for path, item in contract.document["paths"].items():
        answers = item.get("get", {}).get("responses", {}).get("200", {}).get("content", {})
        ref = answers.get("application/json", {}).get("schema", {}).get("$ref", "")
        members = schemas.get(ref.rpartition("/")[2], {}).get("properties", {})
        if {"items", "rows"} & members.keys() and "{" not in path:
            yield path


def test_every_list_can_be_had_as_csv(api: Api, served: tuple[Flask, Contract]) -> None:
    a_house(api)
    found = sorted(lists(served[1]))
    assert len(found) > 25
    filled = 0
    for path in found:
        query = "?from=2020-01-01&to=2090-01-01" if path.endswith(("consumption", "losses")) else ""
        answer = api.owner.get(f"{path}{query}", Accept="text/csv")
        assert (answer.status_code, answer.mimetype) == (200, "text/csv"), path
        filled += len(answer.get_data(as_text=True).splitlines()) > 1
    assert filled > 15
