"""What goes in and out of clearance."""

from typing import Any

from marshmallow import fields, validate

from service.clearance.look_schemas import LookPlanOut
from service.core.fields import PRINTABLE, Day, Form, Instant, Text
from service.journal.web import ActForm

CODE = validate.Regexp(r"^[a-z0-9]+(-[a-z0-9]+)*$", error="Small letters, digits and hyphens.")
FIGURES = {"description": "Figures, each group with its source and grade; see a shipped policy."}
TEXT = {"type": "string", "pattern": PRINTABLE}
NUMBER = {"type": "number", "minimum": -1e9, "maximum": 1e9}
FIGURE = {"anyOf": [NUMBER, {"type": "boolean"}, TEXT, {"type": "array", "items": TEXT}]}


def _figures(**kwargs: Any) -> fields.Dict:
    return fields.Dict(values=fields.Raw(metadata=FIGURE), metadata=FIGURES, **kwargs)


class PolicyIn(Form):
    """A new version of a policy, or the first of a new one."""

    code = fields.String(required=True, validate=[CODE, validate.Length(max=80)])
    name = Text(longest=200, required=True)
    scope = _figures(required=True)
    sampling = _figures(required=True)
    hatch = _figures(required=True)
    looks = _figures(required=True)
    floor = _figures(required=True)
    temperature_log = _figures(required=True)
    kill_credit = _figures(required=True)
    freedom = _figures(required=True)
    residue = _figures(required=True)
    health = _figures()
    statement = _figures(required=True)


class PolicyOut(PolicyIn):
    """One version of a policy."""

    id = fields.String()
    version = fields.Integer()
    reference_version = fields.String(allow_none=True)
    created_at = Instant()


class ClearanceQuery(Form):
    """Under which policy."""

    policy = Text(longest=80, load_default="standard")


class OverrideIn(Form):
    """A gate that an owner overrides, and why; the statement prints it."""

    gate = Text(longest=80, required=True)
    reason = Text(longest=500, required=True)


class ClearanceIn(ActForm):
    """A decision to clear a lot; under a four-eyes policy the first person proposes, another confirms."""

    policy = Text(longest=80, load_default="standard")
    overrides = fields.List(
        fields.Nested(OverrideIn),
        load_default=list,
        validate=validate.Length(max=20),
        metadata={"description": "Only an owner; never of a notifiable pest's lock."},
    )


class ProposalOut(Form):
    """What the first of two people proposed; somebody else sends the same request to confirm it."""

    id = fields.String()
    lot_id = fields.String()
    policy = fields.String()
    proposed_at = Instant()
    proposed_by = fields.String()
    overrides = fields.List(fields.Nested(OverrideIn))


class GateOut(Form):
    """One gate: what is needed, what is there, when it opens, why not yet."""

    code = fields.String()
    ok = fields.Boolean()
    needed = fields.Raw(allow_none=True)
    have = fields.Raw(allow_none=True)
    when = Instant(allow_none=True)
    reason = fields.String(allow_none=True)


class FreedomOut(Form):
    """The chance that none of a pest is left, the best it could be, and how many may still be there."""

    pest = fields.String()
    probability = fields.Float()
    highest = fields.Float()
    units_left = fields.Float()
    never_seen_share = fields.Float()


class ClearanceOut(Form):
    """Every gate of a lot."""

    lot_id = fields.String()
    decidable = fields.Boolean()
    release_day = Day(allow_none=True)
    probability_of_freedom = fields.Float(allow_none=True)
    freedom = fields.List(fields.Nested(FreedomOut))
    policy = fields.String()
    policy_version = fields.Integer()
    rules_version = fields.String()
    reference_version = fields.String()
    computed_at = Instant()
    gates = fields.List(fields.Nested(GateOut))
    look_plan = fields.Nested(LookPlanOut)
    explained = fields.List(
        fields.String(),
        metadata={"description": "What gaps in the log and cold days did to the wait, in words."},
    )


class CertificateOut(Form):
    """A signed statement with the status that it has today."""

    serial = fields.String()
    lot_id = fields.String()
    lot_code = fields.String()
    quantity = fields.Integer()
    unit_of_sale = fields.String()
    dispatch_id = fields.String(allow_none=True, metadata={"description": "Of a customer's parcel."})
    status = fields.String(
        validate=validate.OneOf(["valid", "suspended", "revoked", "superseded", "expired"])
    )
    issued_at = Instant()
    expires_at = Instant()
    good_until = Instant(
        metadata={"description": "Its last day, or earlier when the lot must be looked at again before that."}
    )
    ended_at = Instant(allow_none=True)
    end_reason = fields.String(allow_none=True)
    superseded_by = fields.String(allow_none=True, metadata={"description": "The serial in its place."})
    jws = fields.String()
    check_url = fields.String()


class ComparedOut(Form):
    """One gate as it was decided on and as it is judged again from the same inputs."""

    code = fields.String()
    same = fields.Boolean()
    then = fields.Nested(GateOut, allow_none=True)
    again = fields.Nested(GateOut, allow_none=True)


class ReplayOut(Form):
    """A decision judged again by the rules of today from what it was judged by."""

    serial = fields.String()
    lot_id = fields.String()
    decided_at = Instant()
    outcome = fields.String(
        validate=validate.OneOf(["same", "differs", "not_kept"]),
        metadata={"description": "`not_kept`: decided before inputs were kept with decisions."},
    )
    cleared = fields.Boolean(allow_none=True, metadata={"description": "The verdict of the replay."})
    inputs_as_recorded = fields.Boolean(
        allow_none=True, metadata={"description": "The inputs are those whose digest the journal holds."}
    )
    policy = fields.String()
    policy_version = fields.Integer()
    policy_version_now = fields.Integer()
    rules_version = fields.String()
    rules_version_now = fields.String()
    reference_version = fields.String()
    reference_version_now = fields.String()
    gates = fields.List(fields.Nested(ComparedOut))


class RevocationIn(ActForm):
    """Why a certificate is taken back."""

    reason = Text(longest=500, required=True)


class CheckOut(Form):
    """What anybody may know of a certificate."""

    serial = fields.String()
    status = fields.String()
    meaning = fields.String(metadata={"description": "The status in plain words."})
    since = Instant()
    lot_code = fields.String()
    scientific_name = fields.String()
    quantity = fields.Integer()
    unit_of_sale = fields.String()
    issuer = fields.Dict()
    issued_at = Instant()
    expires_at = Instant()
    looked_for = fields.List(fields.String())
    superseded_by = fields.String(allow_none=True)
    statement = fields.List(fields.String())
    jws = fields.String()


class KeysOut(Form):
    """A JWK set (RFC 7517)."""

    keys = fields.List(fields.Dict())
