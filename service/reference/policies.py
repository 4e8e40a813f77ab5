"""Clearance policies: what must be shown before a lot may be sold, and how sure one wants to be."""

from dataclasses import dataclass

from service.reference.protocols import EfficacyGrade
from service.reference.words import Count, CountingNumber, Positive, Share, Sourced


@dataclass(frozen=True, kw_only=True)
class Scope(Sourced):
    """The pests that a clearance speaks about when the nursery names no others."""

    pests: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Sampling(Sourced):
    """How many units are looked at.

    Every unit in lots of up to `every_unit_up_to`; above, the plan that finds a single infested unit where
    it can be reached, else one infested share of `detection_level`, at `confidence`. `eyes_sensitivity` is
    taken where the kind of plant is unknown.
    """

    every_unit_up_to: CountingNumber
    detection_level: Share
    confidence: Share
    eyes_sensitivity: Share


@dataclass(frozen=True, kw_only=True)
class Hatch(Sourced):
    """Multiples of the median time to hatch that are waited for.

    `factor_untreated` is for lots without credited treatment and lots in which egg masses were seen.
    """

    factor_treated: Positive
    factor_untreated: Positive


@dataclass(frozen=True, kw_only=True)
class Looks(Sourced):
    """The clean looks at the end, how long they speak for a lot that waits, and what makes them void.

    After `again_after_days` another is owed, before the decision and while cleared stock waits (versions
    written before this was a figure ask for two weeks). A gap of more than `void_after_gap_days` voids the
    looks before it when the water was at `void_from_c` or more.
    """

    clean_looks: CountingNumber
    apart_days: CountingNumber
    last_on_or_after_release_day: bool
    void_after_gap_days: CountingNumber
    void_from_c: float
    again_after_days: CountingNumber = 14


@dataclass(frozen=True, kw_only=True)
class Floor(Sourced):
    """Days of quarantine whatever the temperature, and for plants from outdoor growers."""

    days: Count
    outdoor_days: Count


@dataclass(frozen=True, kw_only=True)
class TemperatureLog(Sourced):
    """The share of time that readings must cover, and the longest gap allowed."""

    coverage: Share
    longest_gap_h: Positive


@dataclass(frozen=True, kw_only=True)
class KillCredit(Sourced):
    """The grades of evidence whose kills count: of adults for the start of the clock, of all for freedom.

    A treatment counts as having killed the adults when its kill of them is so graded and also at least
    `adult_kill_at_least`: good evidence of a weak kill is no credit.
    """

    adult_kill_grades: tuple[EfficacyGrade, ...]
    adult_kill_at_least: Share
    freedom_kill_grades: tuple[EfficacyGrade, ...]


@dataclass(frozen=True, kw_only=True)
class Freedom(Sourced):
    """The chance that none is left which must be reached, and the prior share of infested lots (Beta)."""

    target: Share
    prior_alpha: Positive
    prior_beta: Positive


@dataclass(frozen=True, kw_only=True)
class ResidueGate(Sourced):
    """What shows that copper or an unknown supplier treatment is gone.

    `full_changes` over `over_days`, soak water below `copper_mg_per_l`, and that many shrimp or water fleas
    alive after `animals_alive_h` in it.
    """

    full_changes: CountingNumber
    over_days: CountingNumber
    copper_mg_per_l: Positive
    total_chlorine_mg_per_l: Positive
    shrimp: CountingNumber
    water_fleas: CountingNumber
    animals_alive_h: Positive


@dataclass(frozen=True, kw_only=True)
class Health(Sourced):
    """The share of units that may have been lost to melt, treatment or other causes in the last days."""

    lost_share_at_most: Share
    within_days: CountingNumber


@dataclass(frozen=True, kw_only=True)
class Statement(Sourced):
    """How long a statement is valid, and whether a second person must agree."""

    valid_days: CountingNumber
    four_eyes: bool


@dataclass(frozen=True, kw_only=True)
class Policy:
    """One version of a policy; those written before the health of plants was asked for say nothing of it."""

    code: str
    version: CountingNumber
    name: str
    scope: Scope
    sampling: Sampling
    hatch: Hatch
    looks: Looks
    floor: Floor
    temperature_log: TemperatureLog
    kill_credit: KillCredit
    freedom: Freedom
    residue: ResidueGate
    statement: Statement
    health: Health | None = None
