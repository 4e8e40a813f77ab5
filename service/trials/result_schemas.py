"""The documented shape of a trial's result."""

from marshmallow import fields

from service.core.fields import Form


class IntervalOut(Form):
    """A share with its two-sided limits."""

    estimate = fields.Float()
    low = fields.Float(allow_none=True)
    high = fields.Float(allow_none=True)


class KillOut(Form):
    """What an arm shows of a pest's stage: living before, living (eggs: hatched) after.

    `kill` by Wilson, each animal worth 1 / `design_effect`; `corrected_kill` by the control (Henderson and
    Tilton, limits by Koopman); `kill_proved` is the least kill that the count proves, one-sided.
    """

    pest = fields.String()
    stage = fields.String()
    arm = fields.String()
    control = fields.Boolean()
    tubs = fields.Integer()
    before = fields.Integer()
    after = fields.Integer()
    unaccounted = fields.Integer()
    read_on_day = fields.Integer()
    kill = fields.Nested(IntervalOut)
    kill_proved = fields.Float()
    design_effect = fields.Float()
    corrected_kill = fields.Nested(IntervalOut, allow_none=True)
    control_mortality = fields.Float(allow_none=True)
    control_sound = fields.Boolean(allow_none=True)
    why_not = fields.String(allow_none=True)


class ComparedOut(Form):
    """Two arms: the difference of their kills (Newcombe), Fisher's P, the same by Holm over all pairs."""

    pest = fields.String()
    stage = fields.String()
    first = fields.String()
    second = fields.String()
    difference = fields.Nested(IntervalOut)
    chance = fields.Float()
    chance_by_holm = fields.Float()
    better = fields.String(allow_none=True)


class BestOut(Form):
    """The arms that beat the control at a pest's stage and that none beats."""

    of = fields.String()
    arms = fields.List(fields.String())


class HatchPointOut(Form):
    """Masses hatched by a day; the shares expected untreated, by the log, of fresh eggs and of any age."""

    day = fields.Integer()
    hatched = fields.Integer()
    masses = fields.Integer()
    fresh = fields.Float(allow_none=True)
    any_age = fields.Float(allow_none=True)


class HatchingOut(Form):
    """The hatch curve of an arm."""

    arm = fields.String()
    pest = fields.String()
    points = fields.List(fields.Nested(HatchPointOut))


class StepOut(Form):
    """The share alive from a day of death on (Kaplan and Meier)."""

    day = fields.Integer()
    at_risk = fields.Integer()
    dead = fields.Integer()
    alive = fields.Float()


class LogRankOut(Form):
    """Whether an arm's plants live as long as the control's."""

    chi_square = fields.Float()
    chance = fields.Float()


class ScoredOut(Form):
    """Mean scores of a day over the living, 5 to 1."""

    day = fields.Integer()
    grown = fields.String()
    units = fields.Integer()
    leaves = fields.Float()
    roots = fields.Float()
    melt = fields.Float()
    new_growth = fields.Float()


class ToleranceOut(Form):
    """What the trial says of how the plant takes the method."""

    level = fields.String()
    why = fields.String()


class PlantOut(Form):
    """How a plant fared in an arm; taken or sold units are censored, not dead."""

    plant_id = fields.String()
    plant = fields.String()
    arm = fields.String()
    units = fields.Integer()
    watched = fields.Integer()
    dead = fields.Integer()
    taken = fields.Integer()
    survival = fields.Nested(IntervalOut)
    curve = fields.List(fields.Nested(StepOut))
    against_control = fields.Nested(LogRankOut, allow_none=True)
    condition = fields.List(fields.Nested(ScoredOut))
    tolerance = fields.Nested(ToleranceOut, allow_none=True)


class CostOut(Form):
    """Money as exact text."""

    value = fields.String()
    currency = fields.String()


class MethodOut(Form):
    """What a method costs in material and hands (minutes are reckoned, not measured), and its hazards."""

    arm = fields.String()
    steps = fields.Integer()
    minutes = fields.Float()
    minutes_per_unit = fields.Float()
    lasts_days = fields.Float()
    cost = fields.Nested(CostOut, allow_none=True)
    cost_per_unit = fields.Nested(CostOut, allow_none=True)
    cautions = fields.List(fields.String())
    protective_wear = fields.List(fields.String())
    disposal = fields.String(allow_none=True)


class RefitOut(Form):
    """A line through rate of development against temperature."""

    lower_threshold_c = fields.Float()
    thermal_constant_dd = fields.Float()
    lower_threshold_error_c = fields.Float(allow_none=True)
    thermal_constant_error_dd = fields.Float(allow_none=True)
    r_squared = fields.Float()
    observations = fields.Integer()


class FittedOut(Form):
    """T0 and K50 of a pest's eggs from hatch dates of all trials; never taken over by themselves.

    Untreated masses count whose water was measured, steady and below the optimum. `against_adoption` is
    empty when an adoption may name the pest under `development`.
    """

    pest = fields.String()
    masses = fields.Integer()
    left_out = fields.Integer()
    against_adoption = fields.List(fields.String())
    fit = fields.Nested(RefitOut, allow_none=True)
    why_not = fields.String(allow_none=True)


class EyeOut(Form):
    """An observer's eye by dummies hidden from it."""

    observer = fields.String()
    hidden = fields.Integer()
    found = fields.Integer()
    sensitivity = fields.Nested(IntervalOut)


class ResultOut(Form):
    """A trial's result as it stands: a verdict in words with its numbers, and what it cannot say."""

    trial_id = fields.String()
    question = fields.String()
    closed = fields.Boolean()
    observations = fields.Integer()
    confidence = fields.Float()
    verdict = fields.List(fields.String())
    best = fields.List(fields.Nested(BestOut))
    cannot_say = fields.List(fields.String())
    kills = fields.List(fields.Nested(KillOut))
    comparisons = fields.List(fields.Nested(ComparedOut))
    hatching = fields.List(fields.Nested(HatchingOut))
    plants = fields.List(fields.Nested(PlantOut))
    methods = fields.List(fields.Nested(MethodOut))
    development = fields.List(fields.Nested(FittedOut))
    eyes = fields.List(fields.Nested(EyeOut))
    grade_rules = fields.Dict(metadata={"description": "What an arm's evidence needs for each grade."})
