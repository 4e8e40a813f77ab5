"""Lots brought up to the decision that they may be sold, and the decision, over HTTP."""

from typing import Any

from werkzeug.test import TestResponse

from tests.api import Api
from tests.journeys.bench import Bench
from tests.make_quarantine import quarantined


def decide(bench: Bench, lot: str, body: Any = None, role: str = "manager") -> TestResponse:
    """The decision asked for by somebody who has seen the lot as it is."""
    client = getattr(bench.api, role)
    tag = client.get(f"/lots/{lot}").headers["ETag"]
    answer: TestResponse = client.post(f"/lots/{lot}/clearance", body or {}, If_Match=tag)
    return answer


def ready(bench: Bench, tub: str, **more: Any) -> str:
    """A lot that only waits for the decision, in a tub that has its log."""
    lot = quarantined(bench, tub, **more)
    bench.strain(tub, 3, 44)
    bench.look(7, tub_id=tub, method="bait")
    bench.look(45, lot_id=lot, sample_size=20)
    bench.look(49, lot_id=lot, sample_size=20)
    return lot


def own_policy(api: Api) -> dict[str, Any]:
    """A body that makes a policy of the nursery's own from the standard one."""
    standard = api.owner.seen("/policies/standard/versions/3")
    left_out = {"id", "version", "reference_version", "created_at"}
    return {name: value for name, value in standard.items() if name not in left_out} | {"code": "own"}
