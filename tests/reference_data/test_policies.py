"""Clearance policies: the two that come with the service."""

import json
import math
from dataclasses import asdict

import pytest
from scipy.integrate import quad
from scipy.stats import norm

from service.reference.loader import shipped
from service.reference.policies import Policy

POLICIES = shipped().policies
BOTH = pytest.mark.parametrize("policy", POLICIES.values(), ids=lambda policy: policy.code)


def last_hatched(eggs: int, factor: float) -> float:
    """Chance that all `eggs` hatched by `factor` median times; log-normal between and within lots."""

    def chance(lot: float) -> float:
        hatched = norm.cdf((math.log(factor) - 0.1626 * lot) / 0.09)
        return float(norm.pdf(lot) * hatched**eggs)

    return float(quad(chance, -8, 8, points=[0, 1, 2, 3])[0])


def test_standard_and_strict_are_there() -> None:
    assert {(code, policy.version) for code, policy in POLICIES.items()} == {("standard", 3), ("strict", 3)}


@BOTH
def test_a_policy_asks_for_two_clean_looks_three_days_apart_at_the_end(policy: Policy) -> None:
    assert (policy.looks.clean_looks, policy.looks.apart_days) == (2, 3)
    assert policy.looks.last_on_or_after_release_day
    assert policy.looks.again_after_days == 14
    assert (policy.looks.void_after_gap_days, policy.looks.void_from_c) == (21, 20)


@BOTH
def test_a_policy_never_clears_before_fourteen_days(policy: Policy) -> None:
    assert policy.floor.days == 14
    assert policy.floor.outdoor_days == 35


@BOTH
def test_a_policy_looks_at_every_unit_of_small_lots(policy: Policy) -> None:
    sampling = policy.sampling
    assert (sampling.every_unit_up_to, sampling.detection_level, sampling.confidence) == (60, 0.05, 0.95)


@BOTH
def test_a_policy_speaks_of_snails_that_exist(policy: Policy) -> None:
    assert set(policy.scope.pests) == {"bladder_snail", "ramshorn_snail", "pond_snail"}
    assert set(policy.scope.pests) <= shipped().pests.keys()


@BOTH
def test_only_well_shown_strong_kills_start_the_clock(policy: Policy) -> None:
    assert policy.kill_credit.adult_kill_grades == ("A", "B")
    assert policy.kill_credit.adult_kill_at_least == 0.95


@BOTH
def test_residues_are_gone_after_three_changes_and_living_shrimp(policy: Policy) -> None:
    residue = policy.residue
    assert (residue.full_changes, residue.over_days) == (3, 7)
    assert (residue.shrimp, residue.water_fleas, residue.animals_alive_h) == (5, 10, 72)
    assert residue.copper_mg_per_l == 0.05


@BOTH
def test_the_prior_is_one_infested_lot_in_ten(policy: Policy) -> None:
    freedom = policy.freedom
    assert freedom.prior_alpha / (freedom.prior_alpha + freedom.prior_beta) == pytest.approx(0.1)


def test_strict_asks_for_more_than_standard() -> None:
    standard, strict = POLICIES["standard"], POLICIES["strict"]
    assert (standard.freedom.target, strict.freedom.target) == (0.95, 0.98)
    assert (standard.statement.four_eyes, strict.statement.four_eyes) == (False, True)
    assert (standard.hatch.factor_treated, standard.hatch.factor_untreated) == (1.5, 1.7)
    assert (strict.hatch.factor_treated, strict.hatch.factor_untreated) == (1.7, 1.9)


def test_the_hatch_factors_wait_for_the_last_egg() -> None:
    # log-normal hatching, integrated with scipy: one egg at 1.5; the last of 200 at 1.7 and 1.9
    assert last_hatched(1, 1.5) > 0.95
    assert last_hatched(200, 1.7) > 0.95
    assert last_hatched(200, 1.9) > 0.99


@BOTH
def test_a_policy_can_be_stored_as_json(policy: Policy) -> None:
    assert json.loads(json.dumps(asdict(policy)))["code"] == policy.code
