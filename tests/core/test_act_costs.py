"""What an act asks of the database: statements are counted, so that none comes in unseen.

The figures are what the acts take today, not a goal of their own (no source): raise one only with a reason.
"""

from collections.abc import Callable
from typing import Any

import pytest

from service.core.db import Database
from service.core.ids import new_id
from tests.api import Api
from tests.core.test_costs import noted
from tests.make_lots import line, received_lots, shipment_body

# PostgreSQL asks for the lock of the key, and after its locks once more who stands in the water.
STATEMENTS = {
    "a supplier": {"sqlite": 10, "postgresql": 11},
    "a lot counted in": {"sqlite": 37, "postgresql": 38},
    "a lot moved": {"sqlite": 35, "postgresql": 40},
}
EACH = 1.0  # of a further lot of a shipment: its version, which the entry about the shipment raises
Act = Callable[[str], None]


@pytest.fixture
def acts(api: Api) -> dict[str, Act]:
    """Each act, by a word that is new each time."""
    body = shipment_body(api, line(api))
    tubs = [
        api.grower.made("/tubs", {"code": code, "volume": {"value": 60, "unit": "L"}})["id"]
        for code in ("T1", "T2", "T3")
    ]
    [lot] = received_lots(api, line(api, tub_id=tubs[0]))
    ways = iter(tubs[1:])
    return {
        "a supplier": lambda word: api.grower.made("/suppliers", {"name": word, "country": "NL"}, **key()),
        "a lot counted in": lambda _: api.grower.made("/shipments", body, **key()),
        "a lot moved": lambda _: _moved(api, lot["id"], next(ways)),
    }


def key() -> dict[str, str]:
    """The header that makes an act safe to send again."""
    return {"Idempotency-Key": new_id()}


def _moved(api: Api, lot: str, tub: str) -> None:
    assert api.grower.post(f"/lots/{lot}/moves", {"tub_id": tub}, **key()).status_code == 200


@pytest.mark.parametrize("name", STATEMENTS)
def test_an_act_asks_no_more_than_it_did(database: Database, acts: dict[str, Act], name: str) -> None:
    acts[name]("once")
    with noted(database) as asked:
        acts[name]("again")
    kind = database.engine.dialect.name
    assert len(asked) == STATEMENTS[name][kind], [statement for statement, _ in asked]


def test_many_lots_are_counted_in_for_little_more_than_one(api: Api, database: Database) -> None:
    received_lots(api, line(api))  # what its supplier sent before is judged then
    counts = []
    for many in (1, 11):
        body: dict[str, Any] = shipment_body(api, *[line(api)] * many)
        with noted(database) as asked:
            api.grower.made("/shipments", body)
        counts.append(len(asked))
    assert counts[1] - counts[0] <= 10 * EACH
