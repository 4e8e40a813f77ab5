"""Every calculation refuses what is no number, naming the parameter; one law for the whole science."""

import importlib
import inspect
import math
import pkgutil
from collections.abc import Callable, Iterator
from decimal import Decimal
from typing import Any

import pytest

import service.science
from service.science.demand import DailyDemand
from service.science.domain import OutOfDomain
from service.science.evidence import BetaCredit
from service.science.measuring import BENCH
from service.science.order_quantity import Costs
from service.science.outcomes import Trial
from service.science.ratios import Dilution
from service.science.refit import refit
from service.science.survival import Watched
from service.science.thermal import Development

SNAIL = Development("bladder_snail", 9, 136, 8.5, 25, None, 28, 34)
TRIAL = Trial(30, 6, 28, 26, followed=True)
COUNTS: dict[str, Any] = {"first": 3, "first_total": 60, "second": 14, "second_total": 60}
# An argument of this name that every function which takes it accepts, unless it is in `OWN`.
VALID: dict[str, Any] = {
    "acceptance_number": 0,
    "agent": "sodium_sulfite",
    "basis": "trade",
    "celsius": 20.0,
    "confidence": 0.95,
    "control_after": 28.0,
    "control_before": 30.0,
    "count": 3,
    "costs": Costs(1000.0, 10.0, 0.5),
    "count_total": 20,
    "demand": DailyDemand(5.0, 1.0),
    "density_g_per_ml": 1.04,
    "development": SNAIL,
    "device": BENCH[0],
    "devices": BENCH,
    "dilution": Dilution(1, 19),
    "fraction": 0.5,
    "g_per_l_at_filling": 80.0,
    "hardness_mg_per_l": 100.0,
    "infested": 5,
    "intra_cluster_correlation": 0.1,
    "kill": 0.5,
    "kind": "volume",
    "lot_size": 100,
    "of": "chlorine",
    "per": "sodium_sulfite",
    "power": 0.8,
    "prior_alpha": 1.0,
    "purpose": "rinse",
    "rate_per_day": 0.15,
    "required_kill": 0.9,
    "salt": "copper_sulfate_pentahydrate",
    "sample_size": 30,
    "segments": [(30.0, 20.0)],
    "sensitivity": 0.8,
    "service_level": 0.95,
    "share_left": 0.8,
    "system": "si",
    "units": 40,
}
OWN: dict[str, dict[str, Any]] = {
    "alum.nitrogen_mg_per_l": {"form": "ammonium_alum"},
    "arrays.sine_degree_days": {"minimum_c": [10.0], "maximum_c": [20.0], "lower_threshold_c": 9.0},
    "arrays.shares_hatched": {"degree_days": [100.0], "median_dd": [136.0]},
    "copper.pond_sulfate_mg_per_l": {"alkalinity_mg_per_l": 100.0},
    "demand.negative_binomial_quantile": {"mean": 6.0, "variance": 15.0},
    "errors.rounding_verdict": {"substance": "alum"},
    "errors.over_cap": {"substance": "alum"},
    "gases.gas_l": {"gas": "chlorine"},
    "gases.room_ppm": {"gas": "chlorine"},
    "intermittent.smoothed": {"per_period": [0, 2, 0, 1]},
    "intermittent.teunter_syntetos_babai": {"per_period": [0, 2, 0, 1], "alpha": 0.1, "beta": 0.1},
    "proportions.units_per_arm": {"first_share": 0.95, "second_share": 0.7},
    "proportions.fisher_exact": COUNTS,
    "proportions.risk_ratio": COUNTS,
    "proportions.share_difference": COUNTS,
    "strengths.mol_per_l": {"name": "chlorine"},
    "substances.equivalent_g": {"given": "potassium_alum", "wanted": "ammonium_alum"},
    **{
        f"large_lots.{name}": {"detection_level": 0.05, "intra_lot_correlation": 0.01}
        for name in (
            "binomial_miss",
            "binomial_sample_size",
            "poisson_sample_size",
            "beta_binomial_miss",
            "beta_binomial_sample_size",
        )
    },
    "averages.median_interval": {"values": [1.0, 2.0, 3.0]},
    "averages.ratio_of_sums": {"parts": [(1.0, 2.0), (2.0, 3.0)]},
    "evidence.credit_interval": {"credit": BetaCredit(9.0, 3.0)},
    "evidence.design_effect": {"found": None},
    "evidence.updated_credit": {"prior": BetaCredit(1.0, 1.0), "design_effect": 1.0},
    "outcomes.efficacy": {"trial": TRIAL},
    "outcomes.delta_interval": {"trial": TRIAL},
    "refit.refit_limits": {"found": refit([(18.0, 19.0), (22.0, 13.4), (26.0, 10.1)])},
    "sampling_arrays.sample_sizes": {"lot_sizes": [100], "sensitivities": [0.8]},
    "solutions.rinse_series": {"rinse_volumes_l": [10.0]},
    "survival.kaplan_meier": {"plants": [Watched(3, died=True), Watched(9, died=False)]},
    "unit_draw.proportional_strata": {"strata_sizes": [60, 40]},
}
# Their arguments are logs, dates or whole lists; each has refusals of its own in the tests of its module.
OTHERWISE = {"credit", "curve", "development", "domain", "hypergeometric", "readings", "searching", "tables"}
ALSO_OTHERWISE = {
    "demand.first_day_below",
    "demand.projected_balance",
    "errors.combined_error",
    "freedom.unseen_shares",
    "thermal.refuse_cut_below",
    "unit_draw.draw_units",
}
NUMBERS = (float, int, Decimal)


def functions() -> Iterator[tuple[str, Callable[..., Any]]]:
    for module in pkgutil.iter_modules(service.science.__path__):
        loaded = importlib.import_module(f"service.science.{module.name}")
        for name, function in vars(loaded).items():
            if inspect.isfunction(function) and function.__module__ == loaded.__name__ and name[0] != "_":
                yield f"{module.name}.{name}", function


def cases() -> Iterator[tuple[str, Callable[..., Any], dict[str, Any], str]]:
    """Each numeric parameter of each function, with arguments that the function accepts."""
    for name, function in functions():
        if name.split(".")[0] in OTHERWISE or name in ALSO_OTHERWISE:
            continue
        parameters = inspect.signature(function).parameters
        given = {**VALID, **OWN.get(name, {})}
        arguments = {
            parameter: given.get(parameter, 1 if found.annotation is int else 1.0)
            for parameter, found in parameters.items()
            if parameter in given or (found.default is found.empty and found.annotation in NUMBERS)
        }
        for parameter, found in parameters.items():
            if found.annotation in NUMBERS:
                yield name, function, arguments, parameter


CASES = list(cases())


@pytest.mark.parametrize("bad", [math.nan, math.inf, -math.inf])
@pytest.mark.parametrize(
    ("function", "arguments", "parameter"),
    [pytest.param(*case[1:], id=f"{case[0]}-{case[3]}") for case in CASES],
)
def test_what_is_no_number_is_refused_by_the_parameter_s_own_name(
    function: Callable[..., Any], arguments: dict[str, Any], parameter: str, bad: float
) -> None:
    wrong = (
        Decimal(str(bad)) if inspect.signature(function).parameters[parameter].annotation is Decimal else bad
    )
    with pytest.raises(OutOfDomain) as refused:
        function(**{**arguments, parameter: wrong})
    assert refused.value.parameter == parameter
    assert str(bad) in str(refused.value) or str(wrong) in str(refused.value)


@pytest.mark.parametrize(
    ("function", "arguments"),
    [pytest.param(case[1], case[2], id=case[0]) for case in {case[0]: case for case in CASES}.values()],
)
def test_the_arguments_of_these_refusals_are_otherwise_accepted(
    function: Callable[..., Any], arguments: dict[str, Any]
) -> None:
    function(**arguments)


def test_every_module_of_formulas_is_held_to_it() -> None:
    modules = {name.split(".")[0] for name, _ in functions()}
    held = {name.split(".")[0] for name, *_ in CASES}
    assert modules - held - OTHERWISE == {"amounts", "arrays", "refit", "sampling_arrays", "survival"} - held
    assert len(CASES) > 180
