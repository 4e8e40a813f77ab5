"""Survival curves against published data sets and what R, SAS, Mathematica and statsmodels make of them."""

from collections.abc import Sequence

import pytest
from statsmodels.duration.survfunc import SurvfuncRight, survdiff

from service.science.survival import Step, Watched, kaplan_meier, log_rank, median_days
from tests.reference.outside import Kind, outside


def watched(days: Sequence[float], died: Sequence[int]) -> list[Watched]:
    return [Watched(day, bool(dead)) for day, dead in zip(days, died, strict=True)]


def deaths_and_others(deaths: Sequence[float], others: Sequence[float]) -> list[Watched]:
    return watched([*deaths, *others], [1] * len(deaths) + [0] * len(others))


def at(curve: Sequence[Step], days: float) -> Step:
    return [step for step in curve if step.days <= days][-1]


# Weeks in remission of 21 children on 6-mercaptopurine and 21 on placebo.
FREIREICH = outside(Kind.MEMORY, "Freireich and others 1963, Blood 21, 699-716; values in many textbooks")
TREATED = deaths_and_others([6, 6, 6, 7, 10, 13, 16, 22, 23], [6, 9, 10, 11, 17, 19, 20, 25, 32, 32, 34, 35])
PLACEBO = deaths_and_others([1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23], [])


@FREIREICH
@pytest.mark.parametrize(
    ("weeks", "survival"),
    [(6, 0.857), (7, 0.807), (10, 0.753), (13, 0.690), (16, 0.627), (22, 0.538), (23, 0.448)],
)
def test_the_curve_of_the_leukaemia_trial(weeks: int, survival: float) -> None:
    assert at(kaplan_meier(TREATED), weeks).survival == pytest.approx(survival, abs=5.1e-4)


@FREIREICH
@pytest.mark.parametrize(
    ("weeks", "error"),
    [(6, 0.0764), (7, 0.0869), (10, 0.0963), (13, 0.1068), (16, 0.1141), (22, 0.1282), (23, 0.1346)],
)
def test_the_standard_errors_of_the_leukaemia_trial(weeks: int, error: float) -> None:
    assert at(kaplan_meier(TREATED), weeks).standard_error == pytest.approx(error, abs=5.1e-5)


@FREIREICH
@pytest.mark.parametrize(("group", "weeks"), [(TREATED, 23), (PLACEBO, 8)])
def test_the_medians_of_the_leukaemia_trial(group: list[Watched], weeks: int) -> None:
    assert median_days(kaplan_meier(group)) == weeks


@FREIREICH
def test_the_log_rank_test_of_the_leukaemia_trial() -> None:
    assert log_rank(TREATED, PLACEBO).chi_square == pytest.approx(16.79, abs=0.0051)


# Klein and Moeschberger, Survival Analysis: days after a bone marrow transplant, ALL patients.
MARROW_DEATHS = [1, 55, 74, 86, 104, 107, 109, 110, 122, 122, 129, 172]
MARROW_DEATHS += [192, 194, 230, 276, 332, 383, 418, 466, 487, 526, 609, 662]
MARROW = deaths_and_others(
    MARROW_DEATHS,
    [226, 530, 996, 1111, 1167, 1182, 1199, 1330, 1377, 1433, 1462, 1496, 1602, 2081],
)
# Day, survival, standard error.
MARROW_CURVE = """
1    0.97368 0.025967
55   0.94737 0.036224
74   0.92105 0.043744
86   0.89474 0.049784
104  0.86842 0.054836
107  0.84211 0.059153
109  0.81579 0.062886
110  0.78947 0.066135
122  0.73684 0.071434
129  0.71053 0.073570
172  0.68421 0.075405
192  0.65789 0.076960
194  0.63158 0.078252
230  0.60412 0.079522
276  0.57666 0.080509
332  0.54920 0.081223
383  0.52174 0.081672
418  0.49428 0.081860
466  0.46682 0.081788
487  0.43936 0.081457
526  0.41190 0.080862
609  0.38248 0.080260
662  0.35306 0.079296
"""
MARROW_ROWS = [tuple(float(cell) for cell in line.split()) for line in MARROW_CURVE.strip().splitlines()]


@outside(Kind.LIBRARY, "SAS, bone marrow data of Klein and Moeschberger, in the tests of statsmodels")
@pytest.mark.parametrize(("days", "survival"), [(row[0], row[1]) for row in MARROW_ROWS])
def test_the_curve_of_the_marrow_data(days: float, survival: float) -> None:
    assert at(kaplan_meier(MARROW), days).survival == pytest.approx(survival, abs=5.1e-6)


@outside(Kind.LIBRARY, "SAS, bone marrow data of Klein and Moeschberger, in the tests of statsmodels")
@pytest.mark.parametrize(("days", "error"), [(row[0], row[2]) for row in MARROW_ROWS])
def test_the_standard_errors_of_the_marrow_data(days: float, error: float) -> None:
    assert at(kaplan_meier(MARROW), days).standard_error == pytest.approx(error, abs=1.1e-6)


R_FIRST = watched([3, 1, 2, 3, 2, 1, 5, 3], [0, 1, 1, 1, 0, 0, 1, 0])
R_SECOND = watched([1, 1, 2, 3, 7, 1, 5, 3, 9], [0, 1, 0, 0, 1, 0, 1, 0, 1])
R_SURVFIT = outside(Kind.LIBRARY, "R package survival, survfit and survdiff, in the tests of statsmodels")


@R_SURVFIT
@pytest.mark.parametrize(
    ("group", "days", "survival", "error"),
    [
        (R_FIRST, 1, 0.8750000, 0.1169268),
        (R_FIRST, 2, 0.7291667, 0.1649762),
        (R_FIRST, 3, 0.5468750, 0.2005800),
        (R_FIRST, 5, 0.0, None),
        (R_SECOND, 1, 0.8888889, 0.1047566),
        (R_SECOND, 5, 0.5925926, 0.2518034),
        (R_SECOND, 7, 0.2962963, 0.2444320),
        (R_SECOND, 9, 0.0, None),
    ],
)
def test_curves_of_r(group: list[Watched], days: int, survival: float, error: float | None) -> None:
    step = at(kaplan_meier(group), days)
    assert step.survival == pytest.approx(survival, abs=6e-8)
    assert step.standard_error == (None if error is None else pytest.approx(error, abs=6e-8))


SECOND_GLIOMAS = [10, 10, 12, 13, 14, 15, 16, 17, 18, 20, 24, 24, 25, 28]
SECOND_GLIOMAS += [30, 33, 35, 37, 40, 40, 46, 48, 76, 81, 82, 91, 112, 181]
R_LOG_RANK = outside(Kind.LIBRARY, "R package survival, survdiff, in the tests of SciPy")
BLAND = outside(Kind.PAPER, "Bland and Altman 2004, The logrank test, BMJ 328, 1073; R in the tests of SciPy")


@pytest.mark.parametrize(
    ("first", "second", "chi_square", "chance", "digits"),
    [
        pytest.param(R_FIRST, R_SECOND, 2.14673, 0.14287, 6e-6, marks=R_SURVFIT),
        pytest.param(
            deaths_and_others([8, 12, 26, 14, 21, 27], [8, 32, 20, 40]),
            deaths_and_others([33, 28, 41], [48, 48, 25, 37, 48, 25, 43]),
            6.91598157449,
            0.008542873404,
            1e-11,
            marks=R_LOG_RANK,
        ),
        pytest.param(
            deaths_and_others([19, 6, 5, 4], [20, 19, 17, 14]),
            deaths_and_others([16, 21, 7], [21, 15, 18, 18, 5]),
            0.835004855038,
            0.3608293039,
            1e-10,
            marks=R_LOG_RANK,
        ),
        pytest.param(
            deaths_and_others(
                [6, 13, 21, 30, 37, 38, 49, 50, 63, 79, 86, 98, 202, 219], [31, 47, 80, 82, 82, 149]
            ),
            deaths_and_others(
                SECOND_GLIOMAS,
                [34, 40, 70],
            ),
            7.49659416854,
            0.006181578637,
            1e-11,
            marks=BLAND,
        ),
    ],
)
def test_log_rank_tests(
    first: list[Watched], second: list[Watched], chi_square: float, chance: float, digits: float
) -> None:
    found = log_rank(first, second)
    assert found.chi_square == pytest.approx(chi_square, abs=digits * 10)
    assert found.chance == pytest.approx(chance, abs=digits * 10)


EXAMPLE_4 = watched(
    [24, 3, 11, 19, 24, 13, 14, 2, 18, 17, 24, 21, 12, 1, 10, 23, 6, 5, 9, 17],
    [0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 0, 0, 1, 0, 1, 0, 1, 0, 1],
)
EXAMPLE_5 = watched(
    [3, 5, 8, 10, 5, 5, 8, 12, 15, 14, 2, 11, 10, 9, 12, 5, 8, 11],
    [1, 1, 1, 0, 1, 0, 1, 1, 0, 0, 1, 1, 0, 0, 1, 1, 1, 1],
)
MATHEMATICA = outside(Kind.LIBRARY, "Mathematica, log-log limits, in the tests of SciPy")
R_90 = outside(Kind.LIBRARY, "R package survival, survfit with conf.type log-log, in the tests of SciPy")


@pytest.mark.parametrize(
    ("group", "confidence", "days", "low", "high", "digits"),
    [
        pytest.param(EXAMPLE_4, 0.95, 1, 0.694743, 0.992802, 1e-6, marks=MATHEMATICA),
        pytest.param(EXAMPLE_4, 0.95, 3, 0.647529, 0.973299, 1e-6, marks=MATHEMATICA),
        pytest.param(EXAMPLE_4, 0.95, 5, 0.591142, 0.947073, 1e-6, marks=MATHEMATICA),
        pytest.param(EXAMPLE_4, 0.95, 14, 0.464605, 0.906422, 1e-6, marks=MATHEMATICA),
        pytest.param(EXAMPLE_4, 0.95, 17, 0.370359, 0.856521, 1e-6, marks=MATHEMATICA),
        pytest.param(EXAMPLE_4, 0.95, 23, 0.160489, 0.776724, 1e-6, marks=MATHEMATICA),
        pytest.param(EXAMPLE_5, 0.90, 2, 0.74366748406861172, 0.9890291867238429, 1e-12, marks=R_90),
        pytest.param(EXAMPLE_5, 0.90, 3, 0.68582332289196246, 0.9638835422144144, 1e-12, marks=R_90),
        pytest.param(EXAMPLE_5, 0.90, 5, 0.50596835651480121, 0.8560366823086629, 1e-12, marks=R_90),
        pytest.param(EXAMPLE_5, 0.90, 8, 0.32913131413336727, 0.7130167643978450, 1e-12, marks=R_90),
        pytest.param(EXAMPLE_5, 0.90, 11, 0.15986912028781664, 0.5678602982997164, 1e-12, marks=R_90),
        pytest.param(EXAMPLE_5, 0.90, 12, 0.04499539918147757, 0.3887616766886558, 1e-12, marks=R_90),
        pytest.param(TREATED, 0.95, 10, 0.5032, 0.8894, 5.1e-5, marks=FREIREICH),
    ],
)
def test_log_log_limits(
    group: list[Watched], confidence: float, days: int, low: float, high: float, digits: float
) -> None:
    step = at(kaplan_meier(group, confidence), days)
    assert (step.low, step.high) == pytest.approx((low, high), abs=digits)


@outside(Kind.LIBRARY, "statsmodels, SurvfuncRight")
@pytest.mark.parametrize("group", [TREATED, PLACEBO, MARROW, EXAMPLE_4, EXAMPLE_5])
def test_curves_are_those_of_statsmodels(group: list[Watched]) -> None:
    expected = SurvfuncRight([plant.days for plant in group], [int(plant.died) for plant in group])
    found = kaplan_meier(group)
    assert [step.days for step in found] == list(expected.surv_times)
    assert [step.survival for step in found] == pytest.approx(list(expected.surv_prob))
    assert [step.at_risk for step in found] == list(expected.n_risk)
    assert [step.deaths for step in found] == list(expected.n_events)


@outside(Kind.LIBRARY, "statsmodels, survdiff")
@pytest.mark.parametrize(
    ("first", "second"), [(TREATED, PLACEBO), (EXAMPLE_4, EXAMPLE_5), (MARROW, EXAMPLE_4)]
)
def test_log_rank_is_that_of_statsmodels(first: list[Watched], second: list[Watched]) -> None:
    plants = [*first, *second]
    group = [0] * len(first) + [1] * len(second)
    chi_square, chance = survdiff(
        [plant.days for plant in plants], [int(plant.died) for plant in plants], group
    )
    found = log_rank(first, second)
    assert (found.chi_square, found.chance) == pytest.approx((chi_square, chance))
