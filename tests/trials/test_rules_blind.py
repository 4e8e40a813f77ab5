"""A blind trial is only as blind as its observers."""

from service.trials.rules_blind import BLIND_MEANS, blind_limits, could_know


def test_who_treated_or_may_read_the_arms_could_know() -> None:
    assert could_know("Ada", reads_arms=False, treated_by={"Bo"}) is None
    assert could_know("Bo", reads_arms=True, treated_by={"Bo"}) == "Bo had a hand in treatments of it."
    assert could_know("Cy", reads_arms=True, treated_by={"Bo"}) == "Cy may read the arms of blind trials."


def test_how_many_looks_were_not_blind_is_said_and_what_blind_means() -> None:
    assert blind_limits([None, None]) == [BLIND_MEANS]
    [said, means] = blind_limits([None, "Bo knew.", "Bo knew.", "Cy knew."])
    assert said == "3 of 4 looks were not blind: Bo knew. Cy knew."
    assert means == BLIND_MEANS
