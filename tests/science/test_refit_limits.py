"""How surely a refitted threshold and constant are known, against general statistics."""

import numpy as np
import pytest
from scipy import stats

from service.science.domain import OutOfDomain
from service.science.refit import refit, refit_limits

SEEN = [(18.0, 19.1), (18.0, 18.2), (20.0, 15.9), (22.0, 13.4), (24.0, 11.0), (24.0, 11.6), (26.0, 10.1)]


@pytest.mark.parametrize("confidence", [0.8, 0.95])
def test_limits_are_those_of_the_delta_method_on_the_fitted_line(confidence: float) -> None:
    """numpy.polyfit's covariance, the gradient of -a/b and 1/b, and scipy.stats.t."""
    celsius, rates = np.array([c for c, _ in SEEN]), 1 / np.array([d for _, d in SEEN])
    (b, a), spread = np.polyfit(celsius, rates, 1, cov=True)
    t = stats.t.ppf((1 + confidence) / 2, len(SEEN) - 2)
    gradients = np.array([a / b**2, -1 / b]), np.array([-1 / b**2, 0.0])
    halves = [t * np.sqrt(one @ spread @ one) for one in gradients]
    threshold, constant = refit_limits(refit(SEEN), confidence)
    assert (threshold.estimate, constant.estimate) == pytest.approx((-a / b, 1 / b))
    assert threshold.high - threshold.estimate == pytest.approx(halves[0])
    assert constant.estimate - constant.low == pytest.approx(halves[1])


def test_two_eggs_have_no_limits() -> None:
    with pytest.raises(OutOfDomain, match="three"):
        refit_limits(refit([(20.0, 16.0), (25.0, 11.0)]))
    with pytest.raises(OutOfDomain):
        refit_limits(refit(SEEN), 1.0)
