"""Addresses of webhooks: where events are sent, and what became of each."""

from collections.abc import Mapping
from typing import Any

from flask import Response, g

from service.accounts.rules import MANAGERS, OWNERS, Role
from service.core.http import allow, answer, created, match, router, session, settings
from service.core.pages import PageForm, listed, page, page_of
from service.exchange import actions, webhook_queries
from service.exchange.actions import Office
from service.exchange.models import Delivery, Webhook
from service.exchange.schemas import (
    DeliveriesQuery,
    DeliveryOut,
    RotationIn,
    WebhookIn,
    WebhookOut,
    WebhookSecretOut,
)
from service.exchange.sending import Line
from service.journal.web import EmptyForm, act_from

LOOKERS = MANAGERS | {Role.AUDITOR}
blueprint = router("webhooks", "Events sent to other systems.")


@blueprint.route("/webhooks")
@allow(LOOKERS)
@blueprint.arguments(PageForm, location="query")
@blueprint.response(200, page_of(WebhookOut))
def list_webhooks(asked: Mapping[str, Any]) -> Response:
    """List webhooks, never their secrets, with what waits for them."""
    found = page(session(), webhook_queries.webhooks(), [Webhook.id], asked)
    views = webhook_queries.webhook_views(session(), found.rows)
    return listed(found, lambda row: views[row[0]])


@blueprint.route("/webhooks", methods=["POST"])
@allow(OWNERS)
@blueprint.arguments(WebhookIn)
@blueprint.response(201, WebhookSecretOut)
def add_webhook(body: Mapping[str, Any]) -> Response:
    """Send events to an address from now on; the secret that signs them is shown this once."""
    g.answers_secret = True
    made, secret = actions.add_webhook(session(), act_from({}), _office(), **body)
    shown = {**webhook_queries.webhook_view(session(), made), "secret": secret}
    return created(shown, f"/webhooks/{made.id}", made)


@blueprint.route("/webhooks/<id:webhook_id>")
@allow(LOOKERS)
@blueprint.response(200, WebhookOut)
def show_webhook(webhook_id: str) -> Response:
    """Show a webhook."""
    found = webhook_queries.webhook_by_id(session(), webhook_id)
    return answer(webhook_queries.webhook_view(session(), found), thing=found)


@blueprint.route("/webhooks/<id:webhook_id>", methods=["DELETE"])
@allow(OWNERS)
@blueprint.response(204)
def remove_webhook(webhook_id: str) -> Response:
    """Send nothing more there; what still waits is parked."""
    found = webhook_queries.webhook_by_id(session(), webhook_id, lock=True)
    match(found, required=True)
    actions.remove_webhook(session(), act_from({}), found)
    return Response(status=204)


@blueprint.route("/webhooks/<id:webhook_id>/rotation", methods=["POST"])
@allow(OWNERS)
@blueprint.arguments(RotationIn)
@blueprint.response(200, WebhookSecretOut)
def rotate_secret(body: Mapping[str, Any], webhook_id: str) -> Response:
    """Give a webhook a new secret, shown this once; the one before signs as well for a while."""
    g.answers_secret = True
    found = webhook_queries.webhook_by_id(session(), webhook_id, lock=True)
    match(found)
    secret = actions.rotate_secret(session(), act_from({}), _office(), found, **body)
    return answer({**webhook_queries.webhook_view(session(), found), "secret": secret}, thing=found)


@blueprint.route("/webhooks/<id:webhook_id>/deliveries")
@allow(LOOKERS)
@blueprint.arguments(DeliveriesQuery, location="query")
@blueprint.response(200, page_of(DeliveryOut))
def list_deliveries(asked: Mapping[str, Any], webhook_id: str) -> Response:
    """List what was and is to be delivered to a webhook, the newest first."""
    webhook_queries.webhook_by_id(session(), webhook_id)
    statement = webhook_queries.deliveries_of(webhook_id, asked["state"])
    found = page(session(), statement, [Delivery.seq, Delivery.n], asked, descending=True)
    return listed(found, webhook_queries.delivery_view)


@blueprint.route("/deliveries/<id:delivery_id>/redelivery", methods=["POST"])
@allow(MANAGERS)
@blueprint.arguments(EmptyForm)
@blueprint.response(200, DeliveryOut)
def deliver_again(body: Mapping[str, Any], delivery_id: str) -> Response:
    """Deliver once more, now and with all attempts; the later events of its subject wait for it."""
    webhook, delivery = webhook_queries.delivery_for_change(session(), delivery_id)
    match(webhook)
    actions.deliver_again(session(), act_from({}), webhook, delivery)
    return answer({name: getattr(delivery, name) for name in webhook_queries.DELIVERY_NAMES})


def _office() -> Office:
    found = settings()
    return Office(found.secret, found.public_url, Line(allowed=found.webhook_allow))
