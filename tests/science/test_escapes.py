"""The never-seen share after escapes, against the beta distribution of a reference library (SciPy)."""

import pytest
from scipy import integrate, stats

from service.science.domain import OutOfDomain
from service.science.freedom import ESCAPE_WEIGHT, never_seen_after_escapes


@pytest.mark.parametrize(("assumed", "found", "escaped"), [(0.05, 9, 1), (0.05, 0, 3), (0.01, 2, 2)])
def test_it_is_the_mean_of_what_is_believed_after_the_lots(assumed: float, found: int, escaped: int) -> None:
    prior = stats.beta(ESCAPE_WEIGHT * assumed, ESCAPE_WEIGHT * (1 - assumed))

    def weight(share: float) -> float:
        return float(prior.pdf(share) * stats.binom.pmf(escaped, found + escaped, share))

    mean = integrate.quad(lambda h: h * weight(h), 0, 1)[0] / integrate.quad(weight, 0, 1)[0]
    assert never_seen_after_escapes(assumed, found, escaped) == pytest.approx(mean, rel=1e-6)


def test_silence_never_lowers_it() -> None:
    assert never_seen_after_escapes(0.05, 1000, 0) == 0.05
    assert never_seen_after_escapes(0.05, 1000, 1) == 0.05
    assert never_seen_after_escapes(0, 0, 0) == 0


@pytest.mark.parametrize(("assumed", "found", "escaped"), [(1.1, 0, 0), (0.1, -1, 0), (0.1, 0, -1)])
def test_what_is_no_share_or_no_number_is_refused(assumed: float, found: int, escaped: int) -> None:
    with pytest.raises(OutOfDomain):
        never_seen_after_escapes(assumed, found, escaped)
