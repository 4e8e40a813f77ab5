"""A shipment as a client sends it becomes one: received, or expected."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from service.core.errors import Invalid
from service.core.http import session
from service.intake import actions
from service.intake.models import Shipment
from service.journal.acts import Act
from service.journal.web import act_from

FACTS = ("supplier_id", "expected_on", "claim_before", "documents", "note")


def registered(body: Mapping[str, Any]) -> Shipment:
    """Register a shipment by a loaded body: received with its lots, or expected and received later."""
    facts = {name: body[name] for name in FACTS}
    if body["expected_on"] is not None and body["received_at"] is None:
        return actions.expect_shipment(session(), act_from({}), facts, body["lines"])
    share = body["share_water"]
    return actions.receive_shipment(session(), _receipt(body), facts, body["lines"], share_water=share)


def _receipt(body: Mapping[str, Any]) -> Act:
    try:
        return act_from({"at": body["received_at"], "late_reason": body["late_reason"]})
    except Invalid as problem:
        reasons = [
            replace(reason, pointer="#/received_at") if reason.pointer == "#/at" else reason
            for reason in problem.reasons
        ]
        raise Invalid(problem.code, problem.detail, reasons) from problem
