"""Errors in quadrature, rounding limits and hard caps; limits and caps are assumptions, no source."""

import tomllib
from importlib.resources import files

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.science import errors
from service.science.domain import OutOfDomain


def test_density_strength_and_volume_come_to_six_per_cent() -> None:
    # sqrt(0.01^2 + 0.05^2 + 0.03^2) = 0.0592
    budget = [figure.value for figure in errors.ERRORS.values()]
    assert budget == [0.01, 0.05, 0.03]
    assert errors.combined_error(*budget) == pytest.approx(0.0592, abs=5e-5)
    assert errors.combined_error() == 0
    with pytest.raises(OutOfDomain):
        errors.combined_error(0.01, -0.01)


@given(st.lists(st.floats(0, 1), min_size=1, max_size=5))
def test_errors_together_are_more_than_the_worst_and_less_than_their_sum(found: list[float]) -> None:
    together = errors.combined_error(*found)
    assert max(found) <= together * (1 + 1e-12)
    assert together <= sum(found) * (1 + 1e-12)
    assert together == pytest.approx(errors.combined_error(*found[::-1]))


@pytest.mark.parametrize(
    ("substance", "error", "verdict"),
    [
        ("chlorine", 0.05, "ok"),
        ("chlorine", -0.0501, "warn"),
        ("copper", 0.10, "warn"),
        ("copper", -0.1001, "block"),
        ("permanganate", 0.06, "warn"),
        ("peroxide", 0.11, "block"),
        ("alum", -0.10, "ok"),
        ("alum", 0.1001, "warn"),
        ("salt", 0.20, "warn"),
        ("salt", 0.2001, "block"),
    ],
)
def test_rounding_is_judged_by_the_substance(substance: str, error: float, verdict: str) -> None:
    assert errors.rounding_verdict(substance, error) == verdict


def test_without_limits_or_a_number_there_is_no_verdict() -> None:
    with pytest.raises(OutOfDomain, match="No rounding limits"):
        errors.rounding_verdict("vinegar", 0.01)
    with pytest.raises(OutOfDomain):
        errors.rounding_verdict("alum", float("nan"))


@pytest.mark.parametrize(
    ("substance", "form", "cap"),
    [
        ("chlorine", None, 5000),
        ("permanganate", None, 100),
        ("peroxide", None, 10_000),
        ("alum", None, 12_000),
        ("salt", None, 100_000),
        ("copper", None, 1.0),
        ("copper", "ionic", 1.0),
        ("copper", "amine", 1.0),
        ("copper", "chelate", 2.5),
        ("copper", "nano", 1.0),
    ],
)
def test_no_bath_holds_more_than_its_cap(substance: str, form: str | None, cap: float) -> None:
    assert errors.cap_mg_per_l(substance, form) == cap
    assert not errors.over_cap(substance, cap, form)
    assert errors.over_cap(substance, cap * 1.001, form)


def test_a_substance_without_a_cap_is_named() -> None:
    with pytest.raises(OutOfDomain, match="No cap is on record for 'vinegar'"):
        errors.cap_mg_per_l("vinegar")
    with pytest.raises(OutOfDomain):
        errors.over_cap("chlorine", -1)


def test_caps_and_rounding_limits_are_assumptions_and_those_of_the_reference_data() -> None:
    data = tomllib.loads((files("service.reference") / "data" / "materials.toml").read_text())
    for material in data["materials"]:
        substance = material["substance"]
        if substance in errors.CAPS:
            assert errors.CAPS[substance].grade == "assumption"
            assert material["caps"]["block_above_mg_per_l"] == errors.CAPS[substance].value
        if substance in errors.ROUNDING:
            limits = errors.ROUNDING[substance]
            assert material["rounding"]["warn_above"] == limits.warn_above
            assert material["rounding"]["block_above"] == limits.block_above
