"""When a treatment is credited with the adults, and which hours count half."""

from datetime import datetime

import pytest

from service.treatments.rules import DoseFact, StepFact, adult_step_ended_at, adults_credited_at, soaks
from tests.treatments.facts import COURSE, at, credited, doses, fact, readings, soak


# Four doses of 0.4 mg/L killed all adults (World Aquaculture Society meeting abstract); that a reading must
# show at least 0.9 of the target is an assumption.
@pytest.mark.parametrize(
    ("given", "measured", "expected"),
    [
        (doses(*COURSE), readings(d1=0.4), 10),
        (doses(*COURSE), readings(d1=0.36), 10),
        (doses(*COURSE), readings(d1=0.2, d12=0.4), None),  # too weak for two days: begun anew on day 3
        (doses(*COURSE, 14), readings(d1=0.2, d12=0.4), 14),
        (doses(*COURSE), ((at(1), 0.2), (at(2), 0.4)), 10),  # for 24 h and no longer
        (doses(*COURSE, 14), ((at(1), 0.2), (at(2.01), 0.4), (at(5), 0.4)), 14),
        (doses(*COURSE), readings(d1=0.4, d12=0.1, d14=0.4), 10),  # what was credited stays
        (doses(*COURSE, 14, 17), readings(d1=0.4, d4=0.1, d6=0.1), None),
        (doses(*COURSE, 14, 17), readings(d1=0.4, d4=0.1, d6=0.1, d8=0.4), 17),
        (doses(*COURSE), readings(d12=0.4, d14=0.4), 12),
        (doses(*COURSE), readings(d1=0.3), None),
        (doses(*COURSE), (), None),
        (doses(0, 3, 7), readings(d1=0.4), None),
        (doses(0, 1, 3, 7), readings(d1=0.4), None),
        (doses(0, 1, 3, 7, 10), readings(d1=0.4), 10),
        (doses(*COURSE, mg_per_l=0.3), readings(d1=0.4), None),
        (doses(*COURSE), readings(d29=0.4), None),
    ],
)
def test_a_course_is_credited_with_the_adults_from_its_fourth_measured_dose(
    given: tuple[DoseFact, ...], measured: tuple[tuple[datetime, float], ...], expected: float | None
) -> None:
    found = fact("copper-course", steps=(soak(0, 28),), doses=given, measured=measured, ended=28.1)
    assert adults_credited_at(found) == (None if expected is None else at(expected))
    assert adult_step_ended_at(found) == at(28 if expected is None else expected)


def test_a_running_course_is_credited_while_it_runs() -> None:
    found = fact("copper-course", steps=(soak(0, None),), doses=doses(*COURSE), measured=readings(d1=0.4))
    assert adults_credited_at(found) == at(10)
    assert adult_step_ended_at(found) == at(10)
    unmeasured = fact("copper-course", steps=(soak(0, None),), doses=doses(*COURSE))
    assert adult_step_ended_at(unmeasured) is None


# Grades of evidence after the sources named in the reference data: bleach D, alum C, copper A for pulmonates.
@pytest.mark.parametrize("protocol", ["bleach-dip", "alum-soak", "permanganate-dip", "peroxide-dip"])
def test_dips_and_soaks_of_weak_evidence_are_not_credited(protocol: str) -> None:
    found = fact(protocol, steps=(StepFact(2, "dip", at(0), at(1)),))
    assert adults_credited_at(found) is None
    assert adult_step_ended_at(found) == at(1)


def test_a_soak_of_good_evidence_is_credited_at_its_end() -> None:
    assert adults_credited_at(credited(steps=(soak(0, 2),))) == at(2)
    assert adults_credited_at(credited(steps=(soak(0, 1, "tub leaked"),))) is None
    assert adults_credited_at(credited(steps=(soak(0, None),))) is None
    assert adults_credited_at(credited()) is None
    assert adults_credited_at(credited(steps=(soak(0, 2),)), grades={"B"}) is None


def test_every_pest_in_scope_must_be_killed() -> None:
    found = fact("copper-course", steps=(soak(0, None),), doses=doses(*COURSE), measured=readings(d1=0.4))
    assert adults_credited_at(found, pests=["hydra", "trumpet_snail"]) == at(10)
    assert adults_credited_at(found, pests=["bladder_snail", "planarian"]) is None
    assert adult_step_ended_at(found, pests=["planarian"]) is None


def test_no_killing_step_no_end() -> None:
    assert adult_step_ended_at(fact("quarantine-only", steps=(StepFact(1, "hold", at(0), at(1)),))) is None
    assert adults_credited_at(fact("quarantine-only")) is None


def test_degree_days_count_half_in_a_chemical_soak() -> None:
    rinse = StepFact(1, "rinse", at(0), at(0.1))
    assert soaks(fact("alum-soak", steps=(rinse, soak(1, 3)))) == [(at(1), at(3))]
    assert soaks(fact("copper-course", steps=(soak(1, None),))) == [(at(1), at(29))]
    assert soaks(fact("alum-soak", steps=(soak(None, None),))) == []
    assert soaks(fact("bleach-dip", steps=(soak(0, 1),))) == []


def test_less_evidence_never_gives_an_earlier_credit() -> None:
    whole = fact(
        "copper-course",
        steps=(soak(0, 28),),
        doses=doses(0, 3, 7, 10, 14),
        measured=readings(d1=0.4, d12=0.4),
    )
    full = adults_credited_at(whole)
    assert full is not None
    for place in range(5):
        fewer = tuple(dose for n, dose in enumerate(whole.doses) if n != place)
        later = adults_credited_at(
            fact("copper-course", steps=whole.steps, doses=fewer, measured=whole.measured)
        )
        assert later is None or later >= full
    for place in range(2):
        fewer_read = tuple(reading for n, reading in enumerate(whole.measured) if n != place)
        later = adults_credited_at(
            fact("copper-course", steps=whole.steps, doses=whole.doses, measured=fewer_read)
        )
        assert later is None or later >= full
