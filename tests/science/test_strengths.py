"""Label strengths: per cent by mass and by volume, moles, elements and their salts."""

from collections.abc import Callable

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science import strengths
from service.science.domain import OutOfDomain


def test_per_cent_by_mass_needs_a_density() -> None:
    assert strengths.from_percent_by_mass(12, 1.042) == pytest.approx(125.04)
    assert strengths.to_percent_by_mass(125.04, 1.042) == pytest.approx(12)
    refusals: tuple[Callable[[], object], ...] = (
        lambda: strengths.from_percent_by_mass(12, None),
        lambda: strengths.to_percent_by_mass(120, None),
        lambda: strengths.from_percent_by_mass(12, 0),
    )
    for refused in refusals:
        with pytest.raises(OutOfDomain, match="density_g_per_ml") as refusal:
            refused()
        assert refusal.value.parameter == "density_g_per_ml"


def test_a_liquid_holds_no_more_than_itself() -> None:
    assert strengths.from_percent_by_mass(100, 1.2) == pytest.approx(1200)
    assert strengths.to_percent_by_mass(1200, 1.2) == pytest.approx(100)
    refusals: tuple[Callable[[], object], ...] = (
        lambda: strengths.from_percent_by_mass(100.1, 1.2),
        lambda: strengths.from_percent_by_mass(-0.1, 1.2),
        lambda: strengths.to_percent_by_mass(1200.1, 1.2),
        lambda: strengths.to_percent_by_mass(-0.1, 1.2),
    )
    for refused in refusals:
        with pytest.raises(OutOfDomain):
            refused()


def test_per_cent_by_volume_is_ten_grams_to_the_litre() -> None:
    assert strengths.from_percent_by_volume(3) == 30
    assert strengths.to_percent_by_volume(30) == 3
    assert strengths.from_percent_by_volume(0) == strengths.to_percent_by_volume(0) == 0


def test_moles_and_elements() -> None:
    assert strengths.mol_per_l(87.75, "chlorine") == pytest.approx(1.2376, rel=1e-4)
    assert strengths.element_g_per_l(3.929, "copper_sulfate_pentahydrate") == pytest.approx(1, rel=1e-3)
    assert strengths.salt_g_per_l(1, "copper_sulfate_pentahydrate") == pytest.approx(3.929, rel=1e-3)
    assert strengths.salt_g_per_l(1, "copper_sulfate") == pytest.approx(2.5117, rel=1e-3)


@given(st.floats(0, 100), st.floats(0.7, 2))
def test_strengths_survive_the_way_there_and_back(percent: float, density: float) -> None:
    g_per_l = strengths.from_percent_by_mass(percent, density)
    assert strengths.to_percent_by_mass(min(g_per_l, 1000 * density), density) == pytest.approx(percent)
    salt = strengths.salt_g_per_l(percent, "copper_sulfate")
    assert strengths.element_g_per_l(salt, "copper_sulfate") == pytest.approx(percent)


def test_strengths_below_nothing_are_refused() -> None:
    refusals: tuple[Callable[[], object], ...] = (
        lambda: strengths.from_percent_by_volume(-1),
        lambda: strengths.to_percent_by_volume(-1),
        lambda: strengths.mol_per_l(-1, "chlorine"),
        lambda: strengths.element_g_per_l(-1, "copper_sulfate"),
        lambda: strengths.salt_g_per_l(-1, "copper_sulfate"),
    )
    for refused in refusals:
        with pytest.raises(OutOfDomain):
            refused()
