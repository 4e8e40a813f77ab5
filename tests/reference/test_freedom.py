"""The plain recursion of freedom against worked examples, and a census by stage that comes to the same."""

import pytest

from service.science.freedom import after_clean_look
from tests.reference.outside import Kind, outside

FREEDOM_VIGNETTE = "R package freedom, vignette: 500 herds, design prevalence 0.01, herd sensitivity 0.2"
EPIR = "epiR, manual page and vignette of its functions on surveillance (values re-run)"
RSURVEILLANCE = "RSurveillance, examples and tests (values re-run)"


def rows(free: float, sensitivities: list[float], introductions: list[float]) -> list[float]:
    found = []
    for sensitivity, introduction in zip(sensitivities, introductions, strict=True):
        free = after_clean_look(free, sensitivity, introduction)
        found.append(free)
    return found


@outside(Kind.WORKED, FREEDOM_VIGNETTE)
@pytest.mark.parametrize(("year", "free"), [(1, 0.7312554), (2, 0.8770845), (3, 0.9472066)])
def test_five_hundred_herds(year: int, free: float) -> None:
    found = rows(0.5, [0.6324887] * year, [0.0, *[0.01] * (year - 1)])
    assert found[-1] == pytest.approx(free, abs=2e-7)


@outside(Kind.WORKED, EPIR)
def test_the_equilibrium_of_a_constant_look() -> None:
    assert rows(0.5, [0.6] * 200, [0.02] * 200)[-1] == pytest.approx(0.986395, abs=1e-6)


@outside(Kind.WORKED, EPIR)
def test_the_equilibrium_is_reached_in_the_ninth_period() -> None:
    found = rows(0.5, [0.6] * 9, [0.02] * 9)
    assert found[7] < 0.986 <= found[8]
    assert found[8] == pytest.approx(0.9860930, abs=1e-7)


@outside(Kind.WORKED, RSURVEILLANCE)
@pytest.mark.parametrize(("looks", "free"), [(1, 0.6203008), (2, 0.7261937), (3, 0.8099976), (4, 0.8709093)])
def test_four_looks_of_forty_per_cent(looks: int, free: float) -> None:
    assert rows(0.5, [0.4] * looks, [0.01] * looks)[-1] == pytest.approx(free, abs=5e-8)


@outside(Kind.WORKED, RSURVEILLANCE)
def test_one_look_of_eighty_per_cent() -> None:
    assert after_clean_look(0.5, 0.8, 0.01) == pytest.approx(0.8305369, abs=5e-8)


@outside(Kind.WORKED, EPIR)
def test_a_sensitivity_that_was_planned_for_a_target_reaches_it() -> None:
    """Prior 0.75, introduction 0.01, target 0.95: a system sensitivity of 0.8482371 is needed."""
    assert after_clean_look(0.75, 0.8482371, 0.01) == pytest.approx(0.95, abs=1e-7)


INTRODUCTIONS = [0.01, 0.01, 0.01, 0.02, 0.04, 0.10, 0.10, 0.10, 0.08, 0.06, 0.04, 0.02]
MONTHS = [
    *(0.736881, 0.885134, 0.952912, 0.975809, 0.976923, 0.954130),
    *(0.945551, 0.942256, 0.948993, 0.959368, 0.970851, 0.982448),
]


@outside(Kind.WORKED, RSURVEILLANCE)
@pytest.mark.parametrize("month", range(12))
def test_a_year_whose_months_differ(month: int) -> None:
    found = rows(0.5, [0.65] * 12, INTRODUCTIONS)
    assert found[month] == pytest.approx(MONTHS[month], abs=1e-6)


@outside(Kind.WORKED, EPIR)
def test_one_library_shifts_the_introductions_by_a_month() -> None:
    """A disagreement: epiR 2.0.94 uses the first figure twice and never the last."""
    shifted = [INTRODUCTIONS[0], *INTRODUCTIONS[:-1]]
    assert rows(0.5, [0.65] * 12, shifted)[-1] == pytest.approx(0.9708611, abs=2e-6)
    assert rows(0.5, [0.65] * 12, INTRODUCTIONS)[-1] == pytest.approx(0.9824476, abs=1e-7)
