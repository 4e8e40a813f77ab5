"""What makes a spent bath harmless.

By stoichiometry: 2.794 g sodium ascorbate, 0.592 g bicarbonate and 3.5 g thiosulfate pentahydrate per g Cl2
(standard atomic weights); 7.0 g thiosulfate by the half-reaction to tetrathionate, for weak water.
"""

from typing import Any

import pytest

from service.protocols.spent import neutraliser


def spent(mg_per_l: float, agent: str | None, substance: str = "chlorine", **changes: Any) -> Any:
    named = {"material": "some", "agent": agent, "purpose": "disposal", "note": "", **changes}
    target = {"substance": substance, "value": mg_per_l, "unit": "mg/L"}
    return neutraliser({"neutraliser": named, "target": target}, 10)


def grams(made: Any) -> float:
    assert made["amount"].unit == "g"
    return float(made["amount"].value)


def test_thiosulfate_goes_into_a_strong_dip_with_bicarbonate() -> None:
    made = spent(2678, None)
    assert grams(made) == pytest.approx(26.78 * 3.5 * 1.1)
    assert made["with"]["material"] == "sodium-bicarbonate"
    assert float(made["with"]["amount"].value) == pytest.approx(26.78 * 0.592, rel=1e-3)


def test_weak_water_takes_the_most_that_sources_ask() -> None:
    made = spent(100, "sodium_thiosulfate_pentahydrate")
    assert grams(made) == pytest.approx(7.0)
    assert (made["with"], made["safety_factor"]) == (None, 1.0)


def test_ascorbate_adds_no_acid() -> None:
    made = spent(2678, "sodium_ascorbate")
    assert grams(made) == pytest.approx(26.78 * 2.794 * 1.1)
    assert made["with"] is None


@pytest.mark.parametrize("agent", ["ascorbic_acid", "sodium_bisulfite"])
def test_agents_that_add_acid_never_go_into_a_strong_dip(agent: str) -> None:
    made = spent(2678, agent)
    assert made["amount"] is None
    assert "chlorine gas" in made["safety"]
    assert grams(spent(100, agent)) > 0


def test_other_baths_by_their_mass_per_mass() -> None:
    made = spent(3500, None, "alum", mg_per_mg=0.531)
    assert grams(made) == pytest.approx(35 * 0.531)


def test_a_protocol_that_names_none_has_none() -> None:
    assert neutraliser({"neutraliser": None, "target": None}, 10) is None
