"""What must never meet: complete, symmetric, and as the published charts have it."""

from itertools import combinations_with_replacement
from typing import get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.reference.incompatibilities import UnknownSubstance
from service.reference.loader import shipped
from service.reference.words import Substance

SUBSTANCES: tuple[Substance, ...] = get_args(Substance)
TABLE = shipped().incompatibilities
substances = st.sampled_from(SUBSTANCES)


def test_there_is_a_verdict_on_every_two_substances() -> None:
    assert set(TABLE.pairs) == {frozenset(pair) for pair in combinations_with_replacement(SUBSTANCES, 2)}


@given(a=substances, b=substances)
def test_the_verdict_is_the_same_either_way_round(a: Substance, b: Substance) -> None:
    assert TABLE.verdict(a, b) == TABLE.verdict(b, a)
    assert TABLE.between(a, b) is TABLE.between(b, a)


@given(a=substances, b=substances)
def test_never_goes_both_ways(a: Substance, b: Substance) -> None:
    assert (b in TABLE.never_with(a)) == (TABLE.verdict(a, b) == "never") == (a in TABLE.never_with(b))


def test_a_substance_is_no_hazard_to_itself() -> None:
    assert {TABLE.verdict(substance, substance) for substance in SUBSTANCES} == {"none"}


@pytest.mark.parametrize(
    ("a", "b", "verdict"),
    [
        # Chlorine Institute hypochlorite chart: acids (alum by name), ammonium, peroxide, oxidisers, copper
        ("chlorine", "alum", "never"),
        ("chlorine", "acid", "never"),
        ("chlorine", "ammonium", "never"),
        ("chlorine", "peroxide", "never"),
        ("chlorine", "permanganate", "never"),
        ("chlorine", "copper", "rinse_between"),
        # carbonated water is an acid of pH 3-4
        ("chlorine", "carbonated_water", "never"),
        # AWWA field guide, tables 7-2 and 7-5: used to take chlorine away
        ("chlorine", "thiosulfate", "neutraliser"),
        ("chlorine", "sulfite", "neutraliser"),
        ("chlorine", "ascorbate", "neutraliser"),
        # acid on sulfite gives sulfur dioxide: EPA-600/2-80-076, from memory
        ("alum", "sulfite", "never"),
        ("acid", "bisulfite", "never"),
        # elementary chemistry, from memory
        ("alum", "thiosulfate", "rinse_between"),
        ("alum", "copper", "rinse_between"),
        ("permanganate", "peroxide", "neutraliser"),
        ("copper", "thiosulfate", "pointless"),
        ("copper", "bicarbonate", "pointless"),
        ("chlorine", "salt", "none"),
        ("chlorine", "bicarbonate", "none"),
    ],
)
def test_verdicts_are_those_of_the_charts(a: str, b: str, verdict: str) -> None:
    assert TABLE.verdict(a, b) == verdict


def test_every_never_has_a_way_out_whichever_came_first() -> None:
    for pair, entry in TABLE.pairs.items():
        if entry.verdict == "never":
            assert {way.first for way in entry.ways_out} == pair
            assert all(way.rinses >= 3 for way in entry.ways_out)


def test_bleach_is_followed_only_after_a_chlorine_reading_below_a_tenth() -> None:
    for other in TABLE.never_with("chlorine"):
        ways = {way.first: way for way in TABLE.between("chlorine", other).ways_out}
        assert (ways["chlorine"].measure, ways["chlorine"].below) == ("total_chlorine", 0.1)


def test_alum_is_followed_by_bleach_only_when_the_ph_is_back() -> None:
    ways = {way.first: way for way in TABLE.between("alum", "chlorine").ways_out}
    assert (ways["alum"].measure, ways["alum"].within) == ("ph", 0.5)


def test_three_rinses_take_a_bleach_dip_below_the_limit() -> None:
    # 0.2 L carried into each 10 L: arithmetic
    assert 3093 * (0.2 / 10.2) ** 3 < 0.1 < 3093 * (0.2 / 10.2) ** 2


def test_acid_neutralisers_are_for_weak_rinse_water_only() -> None:
    assert TABLE.between("chlorine", "bisulfite").limit_mg_per_l == 100
    assert TABLE.between("chlorine", "ascorbic_acid").limit_mg_per_l == 100
    assert TABLE.between("chlorine", "thiosulfate").limit_mg_per_l == 5000


def test_every_neutraliser_has_a_limit() -> None:
    entries = [entry for entry in TABLE.pairs.values() if entry.verdict == "neutraliser"]
    assert all(entry.limit_mg_per_l for entry in entries)


def test_an_unknown_substance_is_refused_by_name() -> None:
    with pytest.raises(UnknownSubstance, match="no verdict on chlorine with soap"):
        TABLE.verdict("chlorine", "soap")
