"""The ledger in tests: draws, days around today, balances and lines read back."""

from datetime import UTC, datetime, timedelta
from typing import Any

from sqlalchemy.orm import Session

from service.journal.acts import Act
from service.stores.actions import Drawn, draw
from service.stores.queries import material_by_code
from tests.api import Api

NOW = datetime.now(UTC)
LATE = "entered from the notebook"


def act(days_ago: float = 0) -> Act:
    """An act of now or of so many days ago."""
    return Act("tests", datetime.now(UTC) - timedelta(days=days_ago), datetime.now(UTC))


def drawn(session: Session, code: str, base_units: int, **changes: Any) -> list[Drawn]:
    """What is drawn for a treatment; `changes` are further arguments, `act` among them."""
    asked: dict[str, Any] = {
        "reason": "treatment",
        "cause_kind": "treatment_step",
        "cause_id": "1",
        **changes,
    }
    doing = asked.pop("act", None) or act()
    return draw(session, doing, material=material_by_code(session, code), base_units=base_units, **asked)


def day(days: int) -> str:
    """The date so many days from today."""
    return (datetime.now(UTC) + timedelta(days=days)).date().isoformat()


def balance(api: Api, batch: dict[str, Any]) -> str:
    """What the batch is shown to hold."""
    found = api.grower.seen(f"/stock-batches/{batch['id']}")["balance"]
    return f"{found['value']} {found['unit']}"


def ago(days: int) -> dict[str, Any]:
    """What a body says about a moment so many days ago."""
    return {"at": (NOW - timedelta(days=days)).isoformat(), "late_reason": LATE}


def lines(api: Api, query: str) -> list[tuple[str, str]]:
    """Reason and amount of the lines that a query finds."""
    items = api.grower.seen(f"/stock-entries?{query}")["items"]
    return [(item["reason"], f"{item['amount']['value']} {item['amount']['unit']}") for item in items]
