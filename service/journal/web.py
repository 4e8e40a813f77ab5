"""The act of a web request: who sends it, and the `at` and `late_reason` of its body."""

from collections.abc import Mapping
from typing import Any

from flask import g

from service.core.fields import Form, Instant, Text
from service.core.http import caller, session
from service.journal.acts import Act, open_act


class ActForm(Form):
    """Base of every body that says when something happened."""

    at = Instant(load_default=None, metadata={"description": "When it happened; now if left out."})
    late_reason = Text(load_default=None, metadata={"description": "Needed when more than 24 h late."})


class EmptyForm(Form):
    """A body that must hold nothing."""


def act_from(body: Mapping[str, Any]) -> Act:
    """The act of this request; raises Invalid when its time cannot be."""
    return open_act(
        session(),
        caller().id,
        g.now,
        body.get("at"),
        late_reason=body.get("late_reason"),
        request_id=g.request_id,
    )


def facts(body: Mapping[str, Any]) -> dict[str, Any]:
    """The body without what the act took from it."""
    return {name: value for name, value in body.items() if name not in {"at", "late_reason"}}
