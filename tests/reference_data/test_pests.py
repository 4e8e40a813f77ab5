"""Pests: groups, development figures against the papers they come from, sensitivities."""

import pytest
from scipy.stats import linregress

from service.reference.loader import shipped
from service.reference.pests import DevelopmentFigures, Pest

HITCH_HIKERS = {
    "bladder_snail",
    "ramshorn_snail",
    "pond_snail",
    "trumpet_snail",
    "gilled_snail",
    "apple_snail",
    "planarian",
    "hydra",
    "nymph",
}
SNAILS_WITH_EGGS = ["bladder_snail", "ramshorn_snail", "pond_snail", "gilled_snail"]
PESTS = shipped().pests
DEVELOPING = [pest for pest in PESTS.values() if pest.development]


def development(code: str) -> DevelopmentFigures:
    figures = PESTS[code].development
    assert figures is not None
    return figures


def test_the_nine_groups_that_hitch_hike_are_there() -> None:
    assert {code for code, pest in PESTS.items() if pest.category == "hitch_hiker"} == HITCH_HIKERS


@pytest.mark.parametrize(
    "code", ["ostracod", "copepod", "detritus_worm", "daphnia", "duckweed", "hair_algae"]
)
def test_harmless_animals_and_plant_pests_never_reset_the_clock(code: str) -> None:
    assert not PESTS[code].resets_clock
    assert not PESTS[code].hatch_gate


@pytest.mark.parametrize("code", sorted(HITCH_HIKERS))
def test_a_live_hitch_hiker_resets_the_clock(code: str) -> None:
    assert PESTS[code].resets_clock


@pytest.mark.parametrize("code", ["trumpet_snail", "hydra", "nymph"])
def test_live_bearers_hydra_and_nymphs_have_no_hatch_gate(code: str) -> None:
    assert not PESTS[code].hatch_gate


def test_trumpet_snails_owe_three_night_baits_and_a_time_to_become_visible() -> None:
    assert PESTS["trumpet_snail"].night_baits == 3
    assert PESTS["trumpet_snail"].visibility


@pytest.mark.parametrize("pest", PESTS.values(), ids=lambda pest: pest.code)
def test_what_waits_for_hatching_knows_how_long_that_takes(pest: Pest) -> None:
    assert pest.hatch_gate == (pest.development is not None)
    assert not pest.hatch_gate or (pest.lays_eggs and "egg" in pest.stages and pest.visibility)


def test_apple_snails_must_be_reported() -> None:
    # Regulation (EU) 2019/2072, Annex II part B: the whole genus Pomacea
    assert PESTS["apple_snail"].taxon == "Pomacea"
    assert [code for code, pest in PESTS.items() if pest.regulated == "notifiable"] == ["apple_snail"]


@pytest.mark.parametrize("pest", DEVELOPING, ids=lambda pest: pest.code)
def test_thermal_constant_and_threshold_agree_with_the_anchor(pest: Pest) -> None:
    # K = D (T - T0): Campbell et al. 1974, J. Appl. Ecol. 11:431-438 (from memory)
    figures = development(pest.code)
    constant = figures.anchor_days * (figures.anchor_c - figures.lower_threshold_c)
    assert figures.thermal_constant_dd == pytest.approx(constant, rel=2e-3)


@pytest.mark.parametrize("pest", DEVELOPING, ids=lambda pest: pest.code)
def test_thresholds_lie_in_order_below_the_anchor_and_the_optimum(pest: Pest) -> None:
    figures = development(pest.code)
    believable = figures.threshold_range
    assert believable.low_c <= figures.lower_threshold_c <= believable.high_c < figures.anchor_c
    assert figures.anchor_c <= figures.limits.optimum_c < figures.limits.maximum_c


@pytest.mark.parametrize(
    ("code", "celsius", "shortest", "longest"),
    [
        ("bladder_snail", 25, 7, 10),  # Ma & Li 2012, Sichuan J. Zool. 31(5)
        ("ramshorn_snail", 25, 8, 9),  # Am. J. Trop. Med. Hyg. 12(2):264, temperature assumed
        ("pond_snail", 20, 16, 16),  # Arambašić et al. 2013, World Appl. Sci. J. 25(10):1438-1448
        ("gilled_snail", 25, 12, 14),  # Cather & Verdonk 1974, as cited
        ("planarian", 18, 19.9, 19.9),  # Sant'Anna et al. 2007, SaBios 2(2):22
    ],
)
def test_days_to_hatch_are_those_of_the_paper(
    code: str, celsius: float, shortest: float, longest: float
) -> None:
    figures = development(code)
    days = figures.thermal_constant_dd / (celsius - figures.lower_threshold_c)
    assert shortest * 0.998 <= days <= longest * 1.002


def test_the_flatworm_threshold_is_that_of_a_related_species() -> None:
    # Microplana terrestris: 85, 40, 28 days at 7.1, 11.5, 16.9 °C; T0 = -intercept / slope of 1/D on T
    fit = linregress([7.1, 11.5, 16.9], [1 / 85, 1 / 40, 1 / 28])
    threshold = -fit.intercept / fit.slope
    assert threshold == pytest.approx(1.88, abs=0.01)
    assert development("planarian").lower_threshold_c == pytest.approx(threshold, abs=1.29)


def test_the_lowest_flatworm_threshold_is_that_of_dendrocoelum() -> None:
    # Dendrocoelum lacteum, south Sweden: 266 degree-days above 1.0 °C
    assert development("planarian").threshold_range.low_c == 1.0


@pytest.mark.parametrize("code", SNAILS_WITH_EGGS)
def test_young_snails_become_visible_as_fast_as_biomphalaria_grows(code: str) -> None:
    # Rearing procedure: 5 mm in 3-4 weeks at 26 °C from 0.7 mm; seen at 2 mm; threshold 11 °C
    days = (2.0 - 0.7) / ((5.0 - 0.7) / 24.5)
    visibility = PESTS[code].visibility
    assert visibility is not None
    assert visibility.degree_days == pytest.approx(days * (26 - 11), rel=5e-3)
    assert visibility.threshold_c == 11


def test_young_planarians_are_seen_after_three_days() -> None:
    visibility = PESTS["planarian"].visibility
    assert visibility is not None
    assert (visibility.days, visibility.degree_days) == (3, None)


@pytest.mark.parametrize("pest", [p for p in PESTS.values() if p.eggs], ids=lambda pest: pest.code)
def test_eggs_per_mass_are_a_range_of_a_pest_with_eggs(pest: Pest) -> None:
    assert pest.eggs is not None
    assert pest.eggs.per_mass_low <= pest.eggs.per_mass_high
    assert "egg" in pest.stages


def test_eggs_per_flatworm_cocoon_include_the_published_mean() -> None:
    # Sant'Anna et al. 2007: 5745 young from 2136 cocoons
    eggs = PESTS["planarian"].eggs
    assert eggs is not None
    assert eggs.per_mass_low < 5745 / 2136 < eggs.per_mass_high
