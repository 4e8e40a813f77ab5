"""Asks for mixing sheets of any water: `python -m tests.fuzz.mixing_sheet -runs=1000 FOLDER`."""

import math
import struct
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import orjson
from flask import Flask

from service.accounts.rules import Role
from service.app import create_app
from service.core import bodies, fields
from service.protocols import measures, mixing, routes, rules, sheets
from service.science import amounts
from tests.api import Api, Contract
from tests.fuzz.starting import is_planted, led_by, run
from tests.house import prepare, settings_for
from tests.journeys.bench import Bench

PROTOCOLS = ("bleach-dip", "alum-soak", "permanganate-dip", "peroxide-dip", "none")
UNITS = ("L", "mL", "[gal_us]", "[qt_us]", "[foz_us]", "g", "l", "", "10.L")
REFUSED = {400, 404, 409, 422}


def seed(protocol: str, value: object, unit: str) -> bytes:
    """A body as it is sent."""
    body = {"protocol": protocol, "version": 1, "water_volume": {"value": value, "unit": unit}}
    return orjson.dumps(body)


SEEDS = (
    bytes([0, 1, 0]) + struct.pack("<d", 12.5),
    bytes([1, 1, 2]) + struct.pack("<d", 0.25),
    seed("bleach-dip", 10, "L"),
    seed("alum-soak", "0.5", "[gal_us]"),
    seed("peroxide-dip", 1e-9, "mL"),
)


def house(folder: Path) -> tuple[Flask, str]:
    """A house with stock to mix from, and a token."""
    url = f"sqlite:///{folder / 'fuzzed.sqlite3'}"
    tokens = prepare(url, folder)
    app = create_app(settings_for(url, folder), wake=lambda: None)
    bench = Bench(Api(app, Contract(app), tokens))
    strength = {"strength": {"value": 8.25, "basis": "naocl_ww"}, "made_on": str(bench.start.date())}
    bench.batch("bleach", 5, "L", **strength)
    bench.batch("potassium-alum", 5, "kg")
    bench.batch("hydrogen-peroxide", 5, "L")
    return app, tokens[Role.GROWER]


def asked_of(app: Flask, token: str) -> Callable[[bytes], None]:
    """A sheet whose every number is finite and not below zero, or a refusal; all else is a find."""
    client, headers = (
        app.test_client(),
        {"Authorization": f"Bearer {token}", "Content-Type": "application/json"},
    )

    def one_input(content: bytes) -> None:
        answer = client.post("/api/v1/mixing-sheets", data=_body(content), headers=headers)
        assert answer.status_code == 200 or answer.status_code in REFUSED, answer.status_code
        found = orjson.loads(answer.data)
        if answer.status_code == 200:
            assert all(math.isfinite(number) and number >= 0 for number in _numbers(found["steps"])), found
        else:
            assert answer.mimetype == "application/problem+json"

    return one_input


def _body(content: bytes) -> bytes:
    """Bytes that are no JSON choose what is asked: protocol, version, unit, and 8 of them the number."""
    if content[:1] in {b"{", b"["} or len(content) < 11:
        return content
    protocol, version, unit = content[0], content[1], content[2]
    [value] = struct.unpack("<d", content[3:11])
    asked = {"protocol": PROTOCOLS[protocol % len(PROTOCOLS)], "version": version % 3}
    water = {"value": value, "unit": UNITS[unit % len(UNITS)]}
    return orjson.dumps({**asked, "water_volume": water})


def _numbers(found: Any) -> Iterator[float]:
    if isinstance(found, dict):
        for name, inner in found.items():
            yield from () if name == "rounding_error" else _numbers(inner)  # may be below zero
    elif isinstance(found, list):
        for inner in found:
            yield from _numbers(inner)
    elif isinstance(found, (int, float)):
        yield found


def plant_a_bug() -> None:
    """Fluid ounces become less than nothing: what the program must find."""
    right = amounts.litres
    routes.amounts.litres = lambda given: -right(given) if given.unit == "[foz_us]" else right(given)  # type: ignore[attr-defined]  # through what the route imports


if __name__ == "__main__":
    led_by(bodies, fields, measures, mixing, rules, sheets)
    with tempfile.TemporaryDirectory() as made:
        known = house(Path(made))
        if is_planted():
            plant_a_bug()
        run(asked_of(*known), SEEDS)
