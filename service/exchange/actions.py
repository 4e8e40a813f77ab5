"""Adding and removing webhooks, rotating their secrets, asking for a delivery once more."""

from collections.abc import Collection
from dataclasses import dataclass, field
from datetime import timedelta

from sqlalchemy import select, update
from sqlalchemy.orm import Session

from service.core.errors import Invalid, Refused
from service.core.ids import new_id
from service.exchange.models import Delivery, Webhook
from service.exchange.rules_address import target_of, url_reasons
from service.exchange.rules_told import EventType
from service.exchange.sending import Line
from service.exchange.signing import secret_of
from service.journal.actions import record
from service.journal.acts import Act
from service.journal.models import JournalHead

OFFICE = "post_office"  # where a session keeps its Office
REMOVED, GONE = "removed", "gone"


@dataclass(frozen=True)
class Office:
    """What the post of a house needs: its secret, its address, and how it reaches others."""

    secret: str = field(repr=False)
    source: str
    line: Line


def add_webhook(
    session: Session, act: Act, office: Office, *, name: str, url: str, types: Collection[EventType]
) -> tuple[Webhook, str]:
    """Send events from now on to `url`; gives the webhook with its secret, which is not shown again.

    No `types` means all. Raises Invalid when events may not be sent there.
    """
    reasons = url_reasons(url, office.source, office.line.allowed)
    if reasons:
        raise Invalid(reasons[0].code, reasons[0].detail, reasons)
    webhook = Webhook(
        id=new_id(),
        name=name,
        url=url,
        types=sorted(type_.value for type_ in types),
        generation=1,
        through=session.scalar(select(JournalHead.seq).where(JournalHead.id == 1)) or 0,
        created_at=act.now,
        created_by=act.by,
    )
    session.add(webhook)
    after = {"name": name, "origin": origin_of(webhook), "types": webhook.types}
    record(session, act, "webhook.added", [webhook], after=after)
    return webhook, secret_of(office.secret, webhook.id, webhook.generation)


def remove_webhook(session: Session, act: Act, webhook: Webhook) -> None:
    """Send nothing more to a locked webhook; removing it again changes nothing."""
    if webhook.ended_at is None:
        end_webhook(session, act, webhook, REMOVED)


def end_webhook(session: Session, act: Act, webhook: Webhook, reason: str) -> None:
    """End a locked webhook; what still waits for it is parked."""
    webhook.ended_at, webhook.end_reason = act.now, reason
    session.execute(
        update(Delivery)
        .where(Delivery.webhook_id == webhook.id, Delivery.state == "waiting")
        .values(state="parked")
    )
    record(session, act, "webhook.ended", [webhook], after={"reason": reason, "origin": origin_of(webhook)})


def rotate_secret(session: Session, act: Act, office: Office, webhook: Webhook, *, overlap_hours: int) -> str:
    """Give a locked webhook a new secret; until the overlap is over the one before signs as well."""
    refuse_ended(webhook)
    webhook.generation += 1
    webhook.former_until = act.now + timedelta(hours=overlap_hours) if overlap_hours else None
    after = {"generation": webhook.generation, "former_until": webhook.former_until}
    record(session, act, "webhook.secret_rotated", [webhook], after=after)
    return secret_of(office.secret, webhook.id, webhook.generation)


def deliver_again(session: Session, act: Act, webhook: Webhook, delivery: Delivery) -> None:
    """Owe a delivery anew, from now on with all its attempts; the later ones of its subject wait for it."""
    refuse_ended(webhook)
    was = delivery.state
    delivery.state, delivery.delivered_at = "waiting", None
    delivery.attempts, delivery.due_at = 0, act.now
    webhook.paused_until = None  # whoever asks has seen to the endpoint
    after = {"delivery_id": delivery.id, "event_id": delivery.event_id, "was": was}
    record(session, act, "webhook.delivery_asked_again", [webhook], after=after)


def refuse_ended(webhook: Webhook) -> None:
    """Raise Refused for a webhook that gets nothing more."""
    if webhook.ended_at is not None:
        detail = "Nothing is sent to this webhook any more; add it again."
        raise Refused("webhook-ended", detail, current_state=webhook.end_reason)


def origin_of(webhook: Webhook) -> str:
    """Scheme, host and port of a webhook: its path may hold a secret, which the journal must not."""
    target = target_of(webhook.url)
    return "" if target is None else target.origin
