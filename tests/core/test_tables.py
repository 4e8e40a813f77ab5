"""Every list can be had as a table; what stands inside one thing comes with it, as JSON."""

from collections.abc import Iterator, Mapping

from flask import Flask

from tests.api import Api, Contract
from tests.make_house import House


def lists(contract: Contract) -> Iterator[str]:
    """The addresses that answer a list."""
    schemas = contract.document["components"]["schemas"]
    for path, item in contract.document["paths"].items():
        answers = item.get("get", {}).get("responses", {}).get("200", {}).get("content", {})
        ref = answers.get("application/json", {}).get("schema", {}).get("$ref", "")
        members = schemas.get(ref.rpartition("/")[2], {}).get("properties", {})
        if {"items", "rows"} & members.keys():
            yield path


def things(house: House) -> Mapping[str, str]:
    """One of each thing that has a list below it, by the name of its id."""
    owner = house.bench.api.owner
    hook = owner.made("/webhooks", {"name": "the shop", "url": "https://shop.example/events"})
    dispatch = owner.seen("/dispatches")["items"][0]["id"]
    owner.made(f"/dispatches/{dispatch}/certificates")
    return {
        "lot_id": house.cleared,
        "recall_id": house.recall,
        "dispatch_id": dispatch,
        "shelf_id": owner.made("/shelves", {"name": "cellar"})["id"],
        "tub_id": house.tubs["T1"],
        "trial_id": owner.seen("/trials")["items"][0]["id"],
        "webhook_id": hook["id"],
    }


def test_every_list_can_be_had_as_csv(api: Api, full_house: House, served: tuple[Flask, Contract]) -> None:
    there = things(full_house)
    found = sorted(lists(served[1]))
    assert len(found) > 35
    filled = set()
    for path in found:
        query = "?from=2020-01-01&to=2090-01-01" if path.endswith(("consumption", "losses")) else ""
        address = path.removeprefix("/api/v1").format(**there)
        answer = api.owner.get(f"{address}{query}", Accept="text/csv")
        assert (answer.status_code, answer.mimetype) == (200, "text/csv"), path
        if len(answer.get_data(as_text=True).splitlines()) > 1:
            filled.add(path.removeprefix("/api/v1"))
    assert len(filled) > 20
    below = {
        "/dispatches/{dispatch_id}/certificates",
        "/lots/{lot_id}/history",
        "/tubs/{tub_id}/temperatures",
    }
    assert below <= filled
