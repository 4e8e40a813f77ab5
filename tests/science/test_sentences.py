"""What a refusal says, word for word, and which parameter it names: people read these sentences."""

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import numpy as np
import pytest

from service.science import (
    alum,
    amounts,
    arrays,
    chlorine,
    copper,
    credit,
    demand,
    development,
    errors,
    freedom,
    intermittent,
    measuring,
    neutralising,
    outcomes,
    proportions,
    ratios,
    readings,
    refit,
    sampling,
    serial,
    solutions,
    strengths,
    substances,
    survival,
)
from service.science.amounts import Amount
from service.science.domain import OutOfDomain
from service.science.survival import Watched
from service.science.thermal import Development

START = datetime(2026, 3, 2, tzinfo=UTC)
BEFORE = START - timedelta(days=1)
SNAIL = Development("bladder_snail", 9, 136, 8.5, 25, (5, 10), 28, 34)
ALIVE = [Watched(3, died=False)]

SENTENCES: list[tuple[Callable[[], object], str, str]] = [
    (
        lambda: alum.aluminium_mg_per_l(1, "rock"),
        "form",
        f"form must be one of {', '.join(alum.FORMS)}, not 'rock'.",
    ),
    (lambda: Amount(Decimal("NaN"), "g"), "value", "An amount must be a finite number, not NaN."),
    (lambda: amounts.litres(Amount(Decimal(1), "g")), "unit", "g is a mass, L is a volume."),
    (
        lambda: amounts.dimension("pinch"),
        "unit",
        f"Unknown unit 'pinch'. Use one of: {' '.join(amounts.UNITS)}.",
    ),
    (
        lambda: amounts.litres(Amount(Decimal(1), "[drp]")),
        "drop_ml",
        "Drops need the calibrated volume of one drop of this bottle.",
    ),
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
        lambda: chlorine.hypochlorite_remaining(125, [(365, 30)]),
        "segments",
        "More than half of the strength is lost by now: test it, or discard it.",
    ),
    (
        lambda: chlorine.hypochlorite_remaining(20, []),
        "g_per_l_at_filling",
        "Ageing is known from 25 to 160 g/L of chlorine, not for 20.",
    ),
    (
        lambda: chlorine.hypochlorite_remaining(60, [(1, 9)]),
        "celsius",
        "Ageing is known from 10 to 60 °C, not at 9 °C.",
    ),
    (
        lambda: copper.copper_cap("nano"),
        "form",
        "The copper's form must be one of ionic, amine, chelate, not 'nano'.",
    ),
    (
        lambda: copper.blind_limit_mg_per_l(0.5, 0),
        "fraction",
        "Nothing is changed or lost: blind doses pile up without end.",
    ),
    (
        lambda: copper.pond_sulfate_mg_per_l(49.0),
        "alkalinity_mg_per_l",
        "Below an alkalinity of 50 mg/L no copper sulfate is used, not at 49.0.",
    ),
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
        lambda: errors.rounding_verdict("vinegar", 0),
        "substance",
        "No rounding limits are on record for 'vinegar'.",
    ),
    (lambda: errors.cap_mg_per_l("vinegar"), "substance", "No cap is on record for 'vinegar'."),
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
        lambda: measuring.best_device(5, "mass", [measuring.BENCH[0]]),
        "devices",
        "There is no device that measures a mass.",
    ),
    (
        lambda: measuring.best_device(0.001, "volume", measuring.BENCH),
        "quantity",
        "Too little to measure with any device here: make a weaker stock solution.",
    ),
    (
        lambda: neutralising.neutraliser_g("sodium_sulfite", 5001, 1, "disposal"),
        "free_chlorine_mg_per_l",
        "Above 5000 mg/L of chlorine neutralising gets too hot: dilute first.",
    ),
    (
        lambda: neutralising.neutraliser_g("ascorbic_acid", 101, 1, "disposal"),
        "agent",
        "Above 100 mg/L of chlorine this agent sets chlorine gas free: "
        "use thiosulfate with bicarbonate, sodium ascorbate or sodium sulfite.",
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
        lambda: ratios.read_dilution("a cup"),
        "text",
        "Write parts of stock + parts of water, like 1+19, not 'a cup'.",
    ),
    (lambda: ratios.dilution_to(2000, 1), "target_mg_per_l", "The stock is weaker than the target."),
    (
        lambda: ratios.parts_stock_with(19, 1000, 1),
        "target_mg_per_l",
        "The stock is no stronger than the target.",
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
        lambda: serial.plan_stock(1e-9, "mass"),
        "quantity",
        f"1e-09 is too little even for {serial.MOST_STAGES} dilutions.",
    ),
    (
        lambda: solutions.stock_volume_ml(2000, 1, 1),
        "target_mg_per_l",
        "The stock is weaker than the target.",
    ),
    (
        lambda: solutions.added_stock_volume_ml(1000, 1, 1),
        "target_mg_per_l",
        "The stock is no stronger than the target.",
    ),
    (
        lambda: solutions.dilution_result_mg_per_l(1, 1001, 1),
        "stock_ml",
        "There is more stock than the total volume.",
    ),
    (
        lambda: solutions.rinses_until(1000, 10, 0.1, 0.001),
        "carry_over_l",
        "20 rinses are not enough: carry less over or neutralise.",
    ),
    (
        lambda: strengths.from_percent_by_mass(5, None),
        "density_g_per_ml",
        "density_g_per_ml is needed: per cent by mass says nothing of a litre without it.",
    ),
    (
        lambda: substances.substance("vinegar"),
        "substance",
        f"substance must be one of {', '.join(substances.SUBSTANCES)}, not 'vinegar'.",
    ),
    (
        lambda: substances.element_share("chlorine"),
        "substance",
        "A dose of chlorine is counted as it is, not by an element.",
    ),
    (
        lambda: substances.equivalent_g(1, "potassium_alum", "copper_sulfate"),
        "wanted",
        "copper_sulfate does not hold what counts in potassium_alum.",
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


@pytest.mark.parametrize(
    ("refused", "parameter", "sentence"), SENTENCES, ids=[sentence[:40] for *_, sentence in SENTENCES]
)
def test_a_refusal_says_what_is_wrong(refused: Callable[[], object], parameter: str, sentence: str) -> None:
    with pytest.raises(OutOfDomain) as problem:
        refused()
    assert (problem.value.parameter, str(problem.value)) == (parameter, sentence)
