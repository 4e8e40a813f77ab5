"""What the database says of the post: what is owed, who carries it, how an attempt ended.

Every function is one short transaction of the caller's; nothing is sent in any of them.
"""

import random
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any, cast

from sqlalchemy import and_, delete, exists, func, insert, or_, select, update
from sqlalchemy.orm import Session, aliased

from service.core.ids import new_id
from service.exchange import queries
from service.exchange.actions import GONE, OFFICE, Office, end_webhook
from service.exchange.models import Delivery, Webhook
from service.exchange.rules import Event
from service.exchange.rules_retry import Verdict, asked_to_wait, next_try, verdict
from service.exchange.rules_told import EventType
from service.exchange.sending import Outcome
from service.exchange.signing import secret_of
from service.journal.actions import record
from service.journal.acts import Act
from service.journal.models import JournalHead

BY = "post"
LEASE = timedelta(minutes=1)  # longer than any turn of a postman (20 s and one attempt of 15 s)
PAUSE = timedelta(seconds=30)  # before anything else is tried where nobody answered
KEPT = timedelta(days=30)  # what was delivered
MOST_FANNED = 200  # entries whose events are owed in one transaction


@dataclass(frozen=True)
class Turn:
    """A webhook that is this worker's for a while, by the token."""

    webhook_id: str
    token: str
    url: str
    secrets: tuple[str, ...] = field(repr=False)
    post: Office


@dataclass(frozen=True)
class Parcel:
    """A delivery to carry, with its event."""

    delivery_id: str
    event: Event


def undelivered(session: Session, now: datetime) -> dict[str, float]:
    """For how many seconds the oldest event that a webhook did not take has waited, by webhook."""
    oldest = select(Delivery.webhook_id, func.min(Delivery.created_at)).where(Delivery.state == "waiting")
    rows = session.execute(oldest.group_by(Delivery.webhook_id)).all()
    return {webhook_id: (now - since).total_seconds() for webhook_id, since in rows}


def given_up(session: Session, _now: datetime) -> dict[str, float]:
    """How many events were parked after three days, by webhook."""
    many = select(Delivery.webhook_id, func.count()).where(Delivery.state == "parked")
    return {webhook_id: float(n) for webhook_id, n in session.execute(many.group_by(Delivery.webhook_id))}


def anything_to_do(session: Session, now: datetime) -> bool:
    """Whether events are still to be owed, or a delivery is due; asked without any lock."""
    head = session.scalar(select(JournalHead.seq).where(JournalHead.id == 1)) or 0
    behind = select(Webhook.id).where(Webhook.ended_at.is_(None), Webhook.through < head)
    return bool(session.scalar(select(behind.exists()))) or bool(session.scalar(_due(now).limit(1)))


def owe_events(session: Session, now: datetime) -> bool:
    """Owe every webhook its share of what the journal has got since; True when there may be more."""
    living = session.scalars(
        select(Webhook)
        .where(Webhook.ended_at.is_(None))
        .order_by(Webhook.id)
        .with_for_update(skip_locked=True)
        .execution_options(populate_existing=True)
    ).all()
    return any([_owe(session, webhook, now) for webhook in living])


def take_turn(session: Session, now: datetime) -> Turn | None:
    """Lease a webhook with something due that no other worker has; commit before sending."""
    found = session.scalars(_due(now).limit(1).with_for_update(skip_locked=True, of=Webhook)).one_or_none()
    if found is None:
        return None
    token = new_id()
    _mark(session, found, lease_token=token, lease_until=now + LEASE)
    webhook = session.get_one(Webhook, found, populate_existing=True)
    post = cast(Office, session.info[OFFICE])
    return Turn(webhook.id, token, webhook.url, _secrets(post, webhook, now), post)


def parcels(session: Session, turn: Turn, now: datetime, most: int) -> list[Parcel]:
    """What is due for this turn, in order: of each subject only the earliest that was not delivered yet."""
    rows = session.execute(
        select(Delivery.id, Delivery.seq, Delivery.n)
        .where(Delivery.webhook_id == turn.webhook_id, Delivery.state == "waiting", Delivery.due_at <= now)
        .where(~_earlier_waits())
        .order_by(Delivery.seq, Delivery.n)
        .limit(most)
    ).all()
    found = queries.events_of_entries(session, {row.seq for row in rows})
    events = {(event.seq, event.n): event for event in found}
    return [Parcel(row.id, events[row.seq, row.n]) for row in rows]


def settle(session: Session, turn: Turn, parcel: Parcel, outcome: Outcome, now: datetime) -> bool:
    """Keep how an attempt ended; False when the turn is over: lease lost, or the endpoint needs time."""
    webhook = session.get(Webhook, turn.webhook_id, with_for_update=True, populate_existing=True)
    delivery = session.get(Delivery, parcel.delivery_id, with_for_update=True, populate_existing=True)
    if webhook is None or delivery is None or webhook.lease_token != turn.token:
        return False
    meaning = verdict(outcome.status)
    delivery.attempts += 1
    delivery.tried_at, delivery.last_status, delivery.last_error = now, outcome.status, outcome.error
    if meaning is Verdict.DELIVERED:
        delivery.state, delivery.delivered_at = "delivered", now
        return True
    asked = asked_to_wait(outcome.retry_after, now)
    due_at = next_try(delivery.attempts, now, random.random(), asked)  # noqa: S311  # jitter is no secret
    if meaning is Verdict.GONE:
        delivery.state = "parked"
        end_webhook(session, Act(BY, now, now), webhook, GONE)
        return False
    if due_at is None:
        _park(session, webhook, delivery, now)
    else:
        delivery.due_at = due_at
    if meaning is Verdict.SLOW_DOWN or outcome.status is None:
        webhook.paused_until = now + (asked or PAUSE)
        return False
    return webhook.ended_at is None


def end_turn(session: Session, turn: Turn) -> None:
    """Give the lease back."""
    session.execute(
        update(Webhook)
        .where(Webhook.id == turn.webhook_id, Webhook.lease_token == turn.token)
        .values(lease_token=None, lease_until=None)
    )


def forget_delivered(session: Session, payload: Mapping[str, Any], now: datetime) -> None:
    """Job: delete what was delivered more than 30 days ago; what is parked stays until it was looked at."""
    session.execute(delete(Delivery).where(Delivery.state == "delivered", Delivery.delivered_at < now - KEPT))


def _owe(session: Session, webhook: Webhook, now: datetime) -> bool:
    types = frozenset(map(EventType, webhook.types)) or frozenset(EventType)
    found = queries.owed_after(session, webhook.through, types, MOST_FANNED)
    rows = [
        {
            "id": new_id(),
            "webhook_id": webhook.id,
            "seq": event.seq,
            "n": event.n,
            "event_id": event.id,
            "type": event.type.value,
            "subject": event.subject,
            "state": "waiting",
            "attempts": 0,
            "due_at": now,
            "created_at": now,
        }
        for event in found.events
    ]
    if rows:
        session.execute(insert(Delivery), rows)
    _mark(session, webhook.id, through=found.place.seq)
    return found.more


def _mark(session: Session, webhook_id: str, **values: Any) -> None:
    # Not through the entity: how the post gets on is no new version of the webhook (its ETag).
    session.execute(update(Webhook).where(Webhook.id == webhook_id).values(**values))


def _due(now: datetime) -> Any:
    waiting = exists().where(
        Delivery.webhook_id == Webhook.id,
        Delivery.state == "waiting",
        Delivery.due_at <= now,
        ~_earlier_waits(),
    )
    return (
        select(Webhook.id)
        .where(
            Webhook.ended_at.is_(None),
            or_(Webhook.paused_until.is_(None), Webhook.paused_until <= now),
            or_(Webhook.lease_until.is_(None), Webhook.lease_until <= now),
            waiting,
        )
        .order_by(func.random())  # none is always the last
    )


def _earlier_waits() -> Any:
    other = aliased(Delivery)
    earlier = or_(other.seq < Delivery.seq, and_(other.seq == Delivery.seq, other.n < Delivery.n))
    return exists().where(
        other.webhook_id == Delivery.webhook_id,
        other.state == "waiting",
        other.subject == Delivery.subject,
        earlier,
    )


def _secrets(post: Office, webhook: Webhook, now: datetime) -> tuple[str, ...]:
    former = webhook.former_until is not None and webhook.former_until > now
    generations = [webhook.generation, *([webhook.generation - 1] if former else [])]
    return tuple(secret_of(post.secret, webhook.id, generation) for generation in generations)


def _park(session: Session, webhook: Webhook, delivery: Delivery, now: datetime) -> None:
    delivery.state = "parked"
    after = {"delivery_id": delivery.id, "event_id": delivery.event_id, "attempts": delivery.attempts}
    record(session, Act(BY, now, now), "webhook.delivery_parked", [webhook], after=after)
