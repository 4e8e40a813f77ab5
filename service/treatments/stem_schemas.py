"""What goes in and out of trial stems."""

from marshmallow import fields

from service.core.fields import Form, Instant, Text, Whole
from service.journal.web import ActForm


class StemTrialIn(ActForm):
    """Stems or leaves of a lot, at most a tenth, that a protocol was tried on."""

    protocol = Text(longest=80, required=True)
    version = Whole(least=1, required=True)
    stems = Whole(least=1, required=True)
    note = Text(load_default=None, allow_none=True)


class JudgementIn(ActForm):
    """How many of them live."""

    alive = Whole(least=0, required=True)
    note = Text(load_default=None, allow_none=True)


class JudgementOut(Form):
    """One judgement."""

    at = Instant()
    alive = fields.Integer()
    note = fields.String(allow_none=True)
    by = fields.String()


class StemTrialOut(Form):
    """Trial stems with what was seen of them so far."""

    id = fields.String()
    lot_id = fields.String()
    protocol = fields.String()
    version = fields.Integer()
    method = fields.String()
    stems = fields.Integer()
    tried_at = Instant()
    note = fields.String(allow_none=True)
    by = fields.String()
    dead = fields.Integer()
    days_owed = fields.List(fields.Integer())
    next_at = Instant(allow_none=True, metadata={"description": "When they are to be judged next."})
    lost_at_most = fields.Float(
        metadata={"description": "Share of such plants that the method may cost, with 95 %."}
    )
    judgements = fields.List(fields.Nested(JudgementOut))


class StemTrialsOut(Form):
    """The trial stems of a lot, the oldest first."""

    items = fields.List(fields.Nested(StemTrialOut))
