"""Reading webhooks and their deliveries."""

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session

from service.core.errors import NotFound
from service.exchange.models import Delivery, Webhook

NAMES = (
    "id",
    "name",
    "url",
    "types",
    "former_until",
    "created_at",
    "ended_at",
    "end_reason",
    "paused_until",
    "version",
)
DELIVERY_NAMES = (
    "id",
    "webhook_id",
    "event_id",
    "type",
    "subject",
    "state",
    "attempts",
    "due_at",
    "created_at",
    "tried_at",
    "delivered_at",
    "last_status",
    "last_error",
)


def webhooks() -> Select[Any]:
    """Every webhook, ended ones too."""
    return select(*(getattr(Webhook, name) for name in NAMES))


def webhook_views(session: Session, rows: Sequence[Sequence[Any]]) -> dict[str, dict[str, Any]]:
    """Webhooks as answered, by id, with how many deliveries wait and are parked."""
    views = {row[0]: {**dict(zip(NAMES, row, strict=True)), "waiting": 0, "parked": 0} for row in rows}
    counts = session.execute(
        select(Delivery.webhook_id, Delivery.state, func.count())
        .where(Delivery.webhook_id.in_(views), Delivery.state.in_(["waiting", "parked"]))
        .group_by(Delivery.webhook_id, Delivery.state)
    )
    for webhook_id, state, count in counts:
        views[webhook_id][state] = count
    return views


def webhook_view(session: Session, webhook: Webhook) -> Mapping[str, Any]:
    """One webhook as answered."""
    row = [getattr(webhook, name) for name in NAMES]
    return webhook_views(session, [row])[webhook.id]


def webhook_by_id(session: Session, webhook_id: str, *, lock: bool = False) -> Webhook:
    """One webhook; raises NotFound."""
    found = session.get(Webhook, webhook_id, with_for_update=lock)
    if found is None:
        raise NotFound("webhook")
    return found


def deliveries_of(webhook_id: str, state: str | None) -> Select[Any]:
    """The deliveries of a webhook, all or those of one state."""
    statement = select(*(getattr(Delivery, name) for name in DELIVERY_NAMES))
    statement = statement.where(Delivery.webhook_id == webhook_id)
    return statement if state is None else statement.where(Delivery.state == state)


def delivery_view(row: Sequence[Any]) -> dict[str, Any]:
    """A delivery as answered."""
    return dict(zip(DELIVERY_NAMES, row, strict=True))


def delivery_for_change(session: Session, delivery_id: str) -> tuple[Webhook, Delivery]:
    """A delivery and its webhook, both locked, the webhook first; raises NotFound."""
    webhook_id = session.scalar(select(Delivery.webhook_id).where(Delivery.id == delivery_id))
    if webhook_id is None:
        raise NotFound("delivery")
    webhook = webhook_by_id(session, webhook_id, lock=True)
    delivery = session.get(Delivery, delivery_id, with_for_update=True, populate_existing=True)
    if delivery is None:  # forgotten meanwhile
        raise NotFound("delivery")
    return webhook, delivery
