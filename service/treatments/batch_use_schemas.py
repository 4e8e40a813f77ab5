"""The documented shape of where a batch was used."""

from marshmallow import fields

from service.core.fields import AmountForm, Form, Instant


class BatchLotOut(Form):
    """A lot that a batch was used on; `split_from` is the lot it was a part of then."""

    id = fields.String()
    code = fields.String()
    state = fields.String()
    split_from = fields.String(allow_none=True)


class BatchTreatmentOut(Form):
    """A treatment that a batch was used in: how much in all, and between when.

    With a `bath_id` its lots were dipped into that bath, and the amount is what the whole bath took.
    """

    treatment_id = fields.String()
    bath_id = fields.String(allow_none=True)
    protocol = fields.String()
    version = fields.Integer()
    state = fields.String()
    tub_id = fields.String()
    amount = fields.Nested(AmountForm)
    first_at = Instant()
    last_at = Instant()
    lots = fields.List(fields.Nested(BatchLotOut))


class BatchUsesOut(Form):
    """Every treatment that a batch was used in, in the order of the first draw."""

    batch_id = fields.String()
    material = fields.String()
    batch_number = fields.String()
    blocked = fields.Boolean()
    block_reason = fields.String(allow_none=True)
    treatments = fields.List(fields.Nested(BatchTreatmentOut))
