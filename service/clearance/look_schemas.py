"""What the proposed look and the schedule of looks are answered as."""

from marshmallow import fields, validate

from service.core.fields import Form, Instant

WHAT = validate.OneOf(["arrival", "every_water_change", "before_the_end", "nights", "last"])


class SeenOut(Form):
    """How well one stage of a pest is seen: by eyes on one such plant, by strain and bait in the tub."""

    pest = fields.String()
    stage = fields.String()
    eyes = fields.Float()
    strain = fields.Float()
    bait = fields.Float()
    never_seen_share = fields.Float()


class StratumShareOut(Form):
    """How many of one part of the lot a look takes in."""

    name = fields.String()
    look_at = fields.Integer()


class PlannedOut(Form):
    """A line of the standard schedule: what was made of it, and when the next is due."""

    what = fields.String(validate=WHAT)
    method = fields.String()
    due_at = Instant(allow_none=True)
    done = fields.Integer()
    needed = fields.Integer()
    minutes = fields.Integer()


class VoidOut(Form):
    """Looks that no longer count: a new generation could be laid before anybody looked again."""

    looks = fields.Integer()
    last_at = Instant()
    new_laying_from = Instant()


class LookPlanOut(Form):
    """The next look as proposed: how many units, how long it takes, what it finds with which chance."""

    lot_size = fields.Integer()
    in_words = fields.String()
    methods = fields.List(fields.String())
    sample_size = fields.Integer(allow_none=True)
    strata = fields.List(fields.Nested(StratumShareOut))
    infested_units_assumed = fields.Integer(allow_none=True)
    achieved_confidence = fields.Float(allow_none=True)
    detection_level = fields.Float()
    confidence = fields.Float()
    sensitivity = fields.Float()
    minutes = fields.Integer()
    clean_looks_needed = fields.Integer()
    next_look_at = Instant(allow_none=True)
    new_laying_from = Instant(
        allow_none=True,
        metadata={"description": "Without a look before then, in warm water, those so far no longer count."},
    )
    void = fields.Nested(VoidOut, allow_none=True)
    schedule = fields.List(fields.Nested(PlannedOut))
    sees = fields.List(fields.Nested(SeenOut))
