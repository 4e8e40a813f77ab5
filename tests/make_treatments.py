"""Treatments carried out over HTTP, dated in the past."""

from datetime import UTC, datetime, timedelta
from typing import Any

from service.core.db import Database
from service.core.ids import new_id
from service.tubs.models import Measurement
from tests.api import Api
from tests.make_lots import LATE, line, received_lots
from tests.make_stores import batch_of, bleach

NOW = datetime.now(UTC).replace(microsecond=0)
SHELF_DAYS = 50.0
NOWHERE = "00000000-0000-7000-8000-000000000000"  # the id of nothing


def day(days: float) -> datetime:
    """The moment so many days after the shelf was filled, 50 days ago."""
    return NOW - timedelta(days=SHELF_DAYS) + timedelta(days=days)


def when(days: float) -> dict[str, Any]:
    """What a body says about that moment."""
    return {"at": day(days).isoformat().replace("+00:00", "Z"), "late_reason": LATE}


def shelf(api: Api) -> dict[str, Any]:
    """Plenty of every material, received on day 0; the batches by material code."""
    made = when(0)
    return {
        "bleach": bleach(api, made_on=day(0).date().isoformat(), **made),
        "thiosulfate": batch_of(api, "thiosulfate", 1000, "g", **made),
        "potassium-alum": batch_of(api, "potassium-alum", 2000, "g", **made),
        "copper-stock": batch_of(api, "copper-stock", 1, "L", copper_form="ionic", **made),
        "permanganate-stock": batch_of(api, "permanganate-stock", 1, "L", **made),
        "hydrogen-peroxide": batch_of(api, "hydrogen-peroxide", 5, "L", **made),
    }


def lot(api: Api, **changes: Any) -> str:
    """The id of a lot received on day 0; `changes` are members of its line."""
    hours = 24 * SHELF_DAYS + (datetime.now(UTC) - NOW).total_seconds() / 3600
    return str(received_lots(api, line(api, **changes), hours=hours)[0]["id"])


def asked(protocol: str, tub: str, lots: list[str], days: float = 0.1, **more: Any) -> dict[str, Any]:
    """The body of a treatment planned on that day."""
    return {"protocol": protocol, "version": 1, "tub_id": tub, "lot_ids": lots, **when(days), **more}


def planned(api: Api, protocol: str, tub: str, lots: list[str], days: float = 0.1, **more: Any) -> str:
    """The id of a treatment planned on that day."""
    return str(api.grower.made("/treatments", asked(protocol, tub, lots, days, **more))["id"])


def started(api: Api, treatment: str, n: int, days: float, **more: Any) -> Any:
    """Step `n` is started on that day."""
    return api.grower.made(f"/treatments/{treatment}/steps/{n}/start", {**when(days), **more})


def finished(api: Api, treatment: str, n: int, days: float, departure: str | None = None) -> Any:
    """Step `n` is finished on that day."""
    body = {**when(days), "departure": departure}
    return api.grower.made(f"/treatments/{treatment}/steps/{n}/finish", body)


def washed(api: Api, treatment: str, days: float = 0.1) -> float:
    """The first step, five minutes of washing; gives the day it ended."""
    started(api, treatment, 1, days)
    finished(api, treatment, 1, days + 5 / 1440)
    return days + 5 / 1440


def carried_out(api: Api, protocol: str, tub: str, lots: list[str], days: float = 0.1, **more: Any) -> str:
    """A whole treatment, every step as long as it should be; gives its id."""
    treatment = planned(api, protocol, tub, lots, days, **more)
    steps = api.grower.seen(f"/protocols/{protocol}/versions/1")["content"]["steps"]
    moment = days
    for step in steps:
        started(api, treatment, step["n"], moment)
        moment += step["duration"]["target_s"] / 86400
        finished(api, treatment, step["n"], moment)
    api.grower.made(f"/treatments/{treatment}/finish", when(moment))
    return treatment


def course(api: Api, tub: str, lots: list[str], days: float = 0.1, **more: Any) -> str:
    """A copper course whose soak runs since that day; gives its id."""
    treatment = planned(api, "copper-course", tub, lots, days, **more)
    started(api, treatment, 2, washed(api, treatment, days))
    return treatment


def changed(api: Api, tub: str, days: float, **more: Any) -> Any:
    """The water of a tub is changed on that day."""
    return api.grower.made(f"/tubs/{tub}/water-changes", {**when(days), **more})


def measured(database: Database, tub: str, substance: str, value: float, days: float) -> None:
    """A test kit is read on that day."""
    with database.writing() as session:
        session.add(
            Measurement(
                id=new_id(),
                tub_id=tub,
                at=day(days),
                substance=substance,
                value=value,
                kit="drop test",
                recorded_at=NOW,
                by="tests",
            )
        )
