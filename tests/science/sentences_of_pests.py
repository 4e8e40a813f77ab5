"""What refusals say about pests, time and counting: the call, the parameter it names, the sentence."""

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np

from service.science import (
    arrays,
    credit,
    demand,
    development,
    freedom,
    intermittent,
    outcomes,
    proportions,
    readings,
    refit,
    sampling,
    survival,
)
from service.science.survival import Watched
from service.science.thermal import Development

START = datetime(2026, 3, 2, tzinfo=UTC)
BEFORE = START - timedelta(days=1)
SNAIL = Development("bladder_snail", 9, 136, 8.5, 25, (5, 10), 28, 34)
ALIVE = [Watched(3, died=False)]

OF_PESTS: list[tuple[Callable[[], object], str, str]] = [
    (
        lambda: arrays.sine_degree_days([9.0], [8.0], 5),
        "minimum_c",
        "The lowest temperature of a day must not be above the highest.",
    ),
    (lambda: arrays.shares_hatched([1.0], [0.0]), "median_dd", "median_dd must be a number above zero."),
    (lambda: arrays.shares_hatched([math.nan], [1.0]), "degree_days", "degree_days must be numbers."),
    (
        lambda: arrays.hours_until([1.0, 0.5], [0.0], [1.0]),
        "cumulative_dd",
        "cumulative_dd must be numbers that never fall.",
    ),
    (
        lambda: arrays.hours_until([1.0, 2.0], [2.1], [1.0]),
        "start_hours",
        "start_hours must lie between 0 and 2.",
    ),
    (lambda: arrays.hours_until([1.0], [0.0], [-1.0]), "needed_dd", "needed_dd must be zero or more."),
    (lambda: arrays.rates([46.0], SNAIL), "celsius", "celsius must lie between -1.0 and 45.0."),
    (
        lambda: credit.half_borders([(START, BEFORE)], START),
        "half_credit",
        "A spell of half credit ends before it begins.",
    ),
    (
        lambda: demand.service_factor(0.5),
        "service_level",
        "service_level must lie between 0.5 and 1, not 0.5.",
    ),
    (
        lambda: demand.daily_demand([1.0]),
        "per_day",
        "Two days at least are needed to see how demand varies.",
    ),
    (lambda: demand.daily_demand([1.0, -1.0]), "per_day", "per_day must be zero or more, not -1.0."),
    (
        lambda: demand.negative_binomial_quantile(6, 6, 0.9),
        "variance",
        "variance must be above the mean of 6, not 6.",
    ),
    (lambda: development.degree_days([], START, BEFORE, SNAIL), "end", "The end lies before the start."),
    (
        lambda: development.hatched_out_at([], START, 1, []),
        "developments",
        "Name at least one pest whose eggs are waited for.",
    ),
    (
        lambda: freedom.probability_of_freedom([-1.0], np.ones((1, 41))),
        "expected",
        "expected must be zero or more units in each cohort.",
    ),
    (
        lambda: freedom.unseen_shares(0, [1.0], [1.0], [[1, 1, 1]], hidden_young=0, hidden_grown=0),
        "median_dd",
        "median_dd must be a number above zero.",
    ),
    (
        lambda: freedom.unseen_shares(1, [1.0], [1.0], [[2, 1, 1]], hidden_young=0, hidden_grown=0),
        "misses",
        "misses must lie between 0 and 1.",
    ),
    (
        lambda: intermittent.smoothed([0, 0, 3], 0.1),
        "per_period",
        "Two demands at least are needed to see how often they come.",
    ),
    (
        lambda: outcomes.henderson_tilton(1, 1, 1, 0),
        "control_after",
        "The control died out: nothing can be said of the treatment.",
    ),
    (
        lambda: proportions.risk_ratio(1, 5, 0, 5, 0.95),
        "second",
        "second must be above zero: without any there is no ratio.",
    ),
    (
        lambda: proportions.units_per_arm(0.5, 0.5, 0.95, 0.8),
        "second_share",
        "second_share must not be first_share: alike they never differ.",
    ),
    (
        lambda: readings.aware("at", datetime(2026, 3, 2)),  # noqa: DTZ001  # that is what is refused
        "at",
        "at must be a moment with its offset from UTC, not 2026-03-02 00:00:00.",
    ),
    (lambda: readings.coverage([], START, BEFORE), "end", "The end lies before the start."),
    (
        lambda: refit.refit([(20, 12), (20, 13)]),
        "observations",
        "Eggs at two different temperatures at least are needed.",
    ),
    (
        lambda: refit.refit([(20, 12), (25, 13)]),
        "observations",
        "Eggs hatched no sooner where it was warmer: leave out the hottest.",
    ),
    (
        lambda: sampling.acceptance_probability(10, 3, 5, 1.0, 3),
        "acceptance_number",
        "acceptance_number must be 0 or more and below the 3 infested units assumed, not 3.",
    ),
    (
        lambda: survival.log_rank(ALIVE, ALIVE),
        "plants",
        "No death of these plants can tell the two groups apart.",
    ),
    (lambda: survival.kaplan_meier([]), "plants", "There must be one plant at least."),
    (
        lambda: replace(SNAIL, lower_threshold_c=4),
        "lower_threshold_range",
        "The lower threshold must lie within its range.",
    ),
    (
        lambda: replace(SNAIL, anchor_c=10),
        "lower_threshold_c",
        "The lower threshold must lie below anchor and optimum.",
    ),
    (lambda: replace(SNAIL, maximum_c=27), "optimum_c", "The optimum must not lie above the maximum."),
]
