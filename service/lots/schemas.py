"""What goes in and out of lots."""

from collections.abc import Mapping
from datetime import date, datetime
from typing import Any

from marshmallow import ValidationError, fields, validate

from service.core.fields import Day, Form, Instant, Ref, Text, Whole
from service.core.pages import PageForm
from service.journal.web import ActForm
from service.lots.rules import HELD, LossCause, RepackKind, State, UnitOfSale

UNIT = validate.OneOf([unit.value for unit in UnitOfSale])


class DayOrInstant(fields.String):
    """A day of the nursery, or a moment in RFC 3339; loaded as date or datetime."""

    def _deserialize(  # type: ignore[override]  # a text on the wire, a date or datetime inside
        self, value: Any, attr: str | None, data: Mapping[str, Any] | None, **kwargs: Any
    ) -> date | datetime:
        for field in (Day(), Instant()):
            try:
                found: date | datetime = field.deserialize(value, attr, data)
            except ValidationError:
                continue
            return found
        raise ValidationError("Not a day like 2026-03-02, nor a moment like 2026-03-02T09:30:00Z.")


class LotQuery(PageForm):
    """Which lots."""

    state = fields.String(load_default=None, validate=validate.OneOf([state.value for state in State]))
    plant = Ref(load_default=None)
    supplier = Ref(load_default=None)
    tub = Ref(load_default=None)
    ready = fields.Boolean(load_default=None, truthy={"true"}, falsy={"false"})
    received_from = DayOrInstant(load_default=None)
    received_to = DayOrInstant(load_default=None, metadata={"description": "A day counts whole."})


class PlantName(Form):
    """The plant of a lot."""

    id = fields.String()
    scientific_name = fields.String()
    trade_name = fields.String(allow_none=True)


class SupplierName(Form):
    """The supplier of a lot."""

    id = fields.String()
    name = fields.String()


class Quantity(Form):
    """received + gained = left + sold + lost + split_off + disposed; reserved is part of left."""

    received = fields.Integer()
    gained = fields.Integer()
    left = fields.Integer()
    reserved = fields.Integer()
    sold = fields.Integer()
    lost = fields.Integer()
    split_off = fields.Integer()
    disposed = fields.Integer()


class OpenHold(Form):
    """A stop on a lot."""

    id = fields.String()
    cause = fields.String()
    since = Instant()


class StratumForm(Form):
    """A part of what came: a layer, a bag, or a kind of its own among others."""

    name = Text(longest=80, required=True)
    quantity = Whole(
        least=1,
        load_default=None,
        allow_none=True,
        metadata={"description": "Of all parts or of none; counted kinds become lots of their own."},
    )
    plant_id = Ref(load_default=None, allow_none=True)  # where it is another kind than the line


class LotOut(Form):
    """A lot."""

    id = fields.String()
    code = fields.String()
    state = fields.String(validate=validate.OneOf([state.value for state in State]))
    state_since = Instant()
    plant = fields.Nested(PlantName)
    supplier = fields.Nested(SupplierName)
    shipment_id = fields.String()
    parent_lot_id = fields.String(allow_none=True)
    returned_from_id = fields.String(
        allow_none=True, metadata={"description": "The lot it was sold from, when a customer sent it back."}
    )
    tub_id = fields.String(allow_none=True)
    unit_of_sale = fields.String(validate=UNIT)
    stems_per_bunch = fields.Integer(allow_none=True)
    untied = fields.Boolean()
    kept_in_wool = fields.Boolean()
    strata = fields.List(fields.Nested(StratumForm))
    bag = fields.String(allow_none=True)
    supplier_treatment_unknown = fields.Boolean()
    quantity = fields.Nested(Quantity)
    received_at = Instant()
    repacked_at = Instant(allow_none=True)
    sealed_since = Instant(
        allow_none=True, metadata={"description": "Cups found whole, and not opened since."}
    )
    opened_at = Instant(allow_none=True)
    cleared_at = Instant(allow_none=True)
    regulated_lock = fields.Boolean()
    holds = fields.List(fields.Nested(OpenHold))
    clock_started_at = Instant(allow_none=True)
    certificate_serial = fields.String(allow_none=True)
    good_until = Instant(
        allow_none=True,
        metadata={"description": "Until when a cleared lot may be sold; another clean look moves it on."},
    )
    version = fields.Integer()


class ListedLotOut(LotOut):
    """A lot as listed, with the projected release day and its age."""

    release_day = fields.Date(allow_none=True)
    release_day_computed_at = Instant(allow_none=True)
    release_day_stale = fields.Boolean()


class MoveIn(ActForm):
    """A move: `to` is the present state (to another tub), or in_quarantine for a cleared lot."""

    to = fields.String(
        load_default=None, validate=validate.OneOf([*(state.value for state in State), HELD]), allow_none=True
    )
    tub_id = Ref(load_default=None, allow_none=True)
    share_water = fields.Boolean(load_default=False, truthy={True}, falsy={False})
    reason = Text(load_default=None, allow_none=True)


class MoveAllIn(ActForm):
    """Where all lots of a tub go."""

    to_tub_id = Ref(required=True)
    share_water = fields.Boolean(load_default=False, truthy={True}, falsy={False})


class MovedOut(Form):
    """The lots that went from a tub to another, in one act."""

    from_tub_id = fields.String()
    to_tub_id = fields.String()
    lot_ids = fields.List(fields.String())


class RepackIn(ActForm):
    """Units that became other units, or a corrected count."""

    kind = fields.Enum(RepackKind, by_value=True, required=True)
    from_quantity = Whole(least=1, required=True)
    to_quantity = Whole(least=0, required=True)
    to_unit_of_sale = fields.String(load_default=None, allow_none=True, validate=UNIT)
    stems_per_bunch = Whole(least=1, most=1000, load_default=None, allow_none=True)


class OpeningIn(ActForm):
    """Why sealed cups are opened."""

    reason = Text(required=True)


class SplitIn(ActForm):
    """A part of a lot that becomes a lot of its own."""

    quantity = Whole(least=1, required=True)
    tub_id = Ref(load_default=None, allow_none=True)
    share_water = fields.Boolean(load_default=False, truthy={True}, falsy={False})
    reason = Text(load_default=None, allow_none=True)


class LossIn(ActForm):
    """Plants lost."""

    quantity = Whole(least=1, required=True)
    cause = fields.Enum(LossCause, by_value=True, required=True)
    note = Text(load_default=None, allow_none=True)


class RejectionIn(ActForm):
    """The end of a lot that is destroyed or returned; `quantity` is all that is left."""

    quantity = Whole(least=1, required=True)
    way = fields.String(required=True, validate=validate.OneOf(["destroyed", "returned"]))
    reason = Text(required=True)


class HoldIn(ActForm):
    """A stop on a lot."""

    cause = Text(longest=80, required=True)
    reason = Text(required=True)


class HoldOut(Form):
    """A stop on a lot."""

    id = fields.String()
    lot_id = fields.String()
    cause = fields.String()
    reason = fields.String()
    since = Instant()


class LiftQuery(Form):
    """Why a hold is lifted."""

    reason = Text(required=True)
