"""What a supplier's record makes one expect before a lot is looked at."""

import numpy as np
import pytest
from scipy import stats

from service.quarantine.rules_prior import FEWEST_LOTS, Record, prior_of
from service.science.domain import OutOfDomain
from service.science.freedom import infested_share


@pytest.mark.parametrize("record", [Record(0, 5), Record(3, 7), Record(1.25, 3.75), Record(0, 50)])
def test_the_record_moves_the_policy_s_prior_as_a_beta_distribution(record: Record) -> None:
    """Oracle: scipy.stats.beta."""
    found, beta = prior_of(1, 9, record), stats.beta(1 + record.infested, 9 + record.clean)
    assert (found.alpha, found.beta) == (1 + record.infested, 9 + record.clean)
    assert found.share.estimate == pytest.approx(beta.mean())
    assert (found.share.low, found.share.high) == pytest.approx(beta.interval(0.95))
    assert found.expected_units == pytest.approx(-np.log(1 - beta.mean()))


def test_it_is_bayes_rule_and_nothing_else() -> None:
    """By sums over a fine grid: the policy's prior times the chance of 3 infested lots of 10 (binomial)."""
    grid = (np.arange(200_000) + 0.5) / 200_000
    weight = stats.beta(1, 9).pdf(grid) * stats.binom(10, grid).pmf(3)
    share = prior_of(1, 9, Record(3, 7)).share
    assert share.estimate == pytest.approx(np.average(grid, weights=weight), abs=1e-6)
    below = np.cumsum(weight) / weight.sum()
    assert np.interp([share.low, share.high], grid, below) == pytest.approx([0.025, 0.975], abs=1e-4)


def test_fewer_than_five_lots_lower_no_expectation_but_a_find_counts_at_once() -> None:
    nothing = prior_of(1, 9, Record(0, 0))
    few = prior_of(1, 9, Record(0, FEWEST_LOTS - 1))
    assert (few.expected_units, few.clean_counts) == (nothing.expected_units, False)
    assert prior_of(1, 9, Record(0, FEWEST_LOTS)).expected_units < nothing.expected_units
    found = prior_of(1, 9, Record(1, 1))
    assert (found.alpha, found.beta) == (2, 9)


def test_what_is_no_record_is_refused() -> None:
    for asked in (
        (0, 9, 0, 0, 0.95),
        (1, 0, 0, 0, 0.95),
        (1, 9, -1, 0, 0.95),
        (1, 9, 0, -1, 0.95),
        (1, 9, 0, 0, 1),
    ):
        with pytest.raises(OutOfDomain):
            infested_share(*asked)
