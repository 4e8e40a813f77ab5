"""What goes in and out of the stores: batches and lines of the ledger."""

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

from marshmallow import ValidationError, fields, validate, validates_schema

from service.core.fields import (
    AmountField,
    AmountForm,
    Day,
    Exact,
    Form,
    Instant,
    Number,
    Ref,
    Text,
)
from service.core.pages import PageForm
from service.journal.web import ActForm
from service.stores.labels import Basis
from service.stores.rules import Way

CURRENCY = validate.Regexp(r"^[A-Z]{3}$", error="An ISO 4217 code, like EUR.")
FORMS = ("ionic", "amine", "chelate")


class LabelStrengthIn(Form):
    """The strength on a label: on a basis, or in a unit that needs none."""

    value = Number(above=0, most=2_000_000, required=True)
    basis = fields.String(validate=validate.OneOf([basis.value for basis in Basis]))
    unit = fields.String(validate=validate.OneOf(["g/L", "mg/L", "1"]))

    @validates_schema
    def one_of_them(self, form: Mapping[str, Any], **_kwargs: Any) -> None:
        """A basis or a unit, not both and not none."""
        if ("basis" in form) == ("unit" in form):
            raise ValidationError("Give either the basis or the unit.")


class MoneyIn(Form):
    """An amount of money, to the hundredth."""

    value = Exact(most="10000000", required=True)
    currency = fields.String(required=True, validate=CURRENCY)

    @validates_schema
    def in_hundredths(self, form: Mapping[str, Any], **_kwargs: Any) -> None:
        """No fraction of a hundredth."""
        value: Decimal = form["value"]
        if value != value.quantize(Decimal("0.01")):
            raise ValidationError("At most two decimals.", "value")


class StockBatchIn(ActForm):
    """A container or delivery that came in; `at` is when."""

    batch_number = Text(longest=80, required=True)
    quantity = AmountField("volume", "mass", required=True)
    container_size = AmountField("volume", "mass", load_default=None, allow_none=True)
    made_on = Day(load_default=None, allow_none=True)
    opened_on = Day(load_default=None, allow_none=True)
    expires_on = Day(load_default=None, allow_none=True)
    strength = fields.Nested(LabelStrengthIn, load_default=None, allow_none=True)
    copper_form = fields.String(load_default=None, allow_none=True, validate=validate.OneOf(FORMS))
    drop_ml = Number(above=0, most=1, load_default=None, allow_none=True)
    shelf_id = Ref(load_default=None, allow_none=True)
    shelf_celsius = Number(least=-20, most=60, load_default=20.0)
    cost = fields.Nested(MoneyIn, load_default=None, allow_none=True)
    confirm_duplicate = fields.Boolean(
        load_default=False,
        truthy={True},
        falsy={False},
        metadata={"description": "One more container of a batch number that the material has already."},
    )


class StockBatchPatch(ActForm):
    """What may change about a batch; `at` is when its strength was measured or it was put on a shelf.

    `shelf_celsius` counts for days on which nobody read the thermometer of its shelf.
    """

    opened_on = Day(allow_none=True)
    blocked = fields.Boolean(truthy={True}, falsy={False})
    block_reason = Text(longest=500)
    measured_strength = AmountField("concentration")
    container_size = AmountField("volume", "mass", allow_none=True)
    drop_ml = Number(above=0, most=1, allow_none=True)
    shelf_id = Ref(allow_none=True)
    shelf_celsius = Number(least=-20, most=60)


class ContainersOut(Form):
    """Into how many containers an amount goes, each emptied before the next is opened."""

    size = fields.Nested(AmountForm)
    received = fields.Integer()
    left = fields.Integer()


class StrengthOut(Form):
    """A strength with what it is counted in."""

    value = fields.Float()
    unit = fields.String()


class LabelStrengthOut(Form):
    """The strength on the label."""

    value = fields.Float()
    basis = fields.String()


class MeasuredStrengthOut(StrengthOut):
    """The last measured strength; it overrides label and ageing."""

    at = Instant()


class MoneyOut(Form):
    """Money as exact text."""

    value = fields.String()
    currency = fields.String()


class StockBatchOut(Form):
    """A batch with its balance, today's strength, and whether it may be used."""

    id = fields.String()
    material = fields.String()
    batch_number = fields.String()
    balance = fields.Nested(AmountForm)
    received = fields.Nested(AmountForm)
    containers = fields.Nested(ContainersOut, allow_none=True)
    usable = fields.Boolean()
    why_not = fields.List(fields.String())
    strength = fields.Nested(LabelStrengthOut, allow_none=True)
    strength_today = fields.Nested(StrengthOut, allow_none=True)
    aged = fields.Boolean()
    measured = fields.Nested(MeasuredStrengthOut, allow_none=True)
    received_at = Instant()
    made_on = Day(allow_none=True)
    opened_on = Day(allow_none=True)
    expires_on = Day(allow_none=True)
    keeps_until = Day(allow_none=True)
    copper_form = fields.String(allow_none=True)
    drop_ml = fields.Float(allow_none=True)
    shelf_celsius = fields.Float()
    shelf_id = fields.String(allow_none=True)
    cost = fields.Nested(MoneyOut, allow_none=True)
    blocked = fields.Boolean()
    block_reason = fields.String(allow_none=True)
    version = fields.Integer()


class BatchUseOut(Form):
    """What a treatment or a bath took from a batch; the lots are at `/stock-batches/{id}/uses`."""

    treatment_id = fields.String(allow_none=True)
    bath_id = fields.String(allow_none=True)
    amount = fields.Nested(AmountForm)


class StockBatchAloneOut(StockBatchOut):
    """A batch with the treatments it was used in."""

    used_in = fields.List(fields.Nested(BatchUseOut))


class StockBatchQuery(PageForm):
    """Which batches: of one material (code or id), only usable ones. A page may hold fewer than its limit."""

    material = Text(longest=80, load_default=None)
    usable = fields.Boolean(load_default=None, truthy={"true"}, falsy={"false"})


class StockEntryQuery(PageForm):
    """Which lines: of a batch, of a material (code or id), of the local days from..to."""

    batch = Ref(load_default=None)
    material = Text(longest=80, load_default=None)
    since = Day(data_key="from", load_default=None)
    until = Day(data_key="to", load_default=None)


class StockCauseOut(Form):
    """The thing that caused a line."""

    kind = fields.String()
    id = fields.String()


class StockEntryOut(Form):
    """One line of the ledger."""

    id = fields.String()
    batch_id = fields.String()
    material = fields.String()
    amount = fields.Nested(AmountForm)
    reason = fields.String()
    way = fields.String(allow_none=True)
    cause = fields.Nested(StockCauseOut)
    treatment_id = fields.String(allow_none=True)
    note = fields.String(allow_none=True)
    reverses_id = fields.String(allow_none=True)
    at = Instant()
    recorded_at = Instant()
    by = fields.String()


class StockCountIn(ActForm):
    """What a count of a batch found."""

    batch_id = Ref(required=True)
    counted = AmountField("volume", "mass", zero=True, required=True)
    note = Text(longest=500, load_default=None, allow_none=True)


class StockCountOut(Form):
    """A count, what was expected, and the line that booked the difference."""

    id = fields.String()
    batch_id = fields.String()
    counted = fields.Nested(AmountForm)
    expected = fields.Nested(AmountForm)
    difference = fields.Nested(AmountForm)
    entry_id = fields.String(allow_none=True)
    at = Instant()


class StockDisposalIn(ActForm):
    """Stock that leaves without being used."""

    batch_id = Ref(required=True)
    quantity = AmountField("volume", "mass", required=True)
    way = fields.Enum(Way, by_value=True, required=True)
    reason = Text(longest=500, required=True)


class StockReversalIn(ActForm):
    """Why a line was wrong."""

    reason = Text(longest=500, required=True)
