"""From a dose to amounts that a person can measure."""

from datetime import date
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from service.protocols.figures import Figures, figures_of
from service.protocols.mixing import Mix, cap_reasons, mix
from service.stores.rules import BatchToday

BLEACH = Figures("bleach", "Bleach", "chlorine", "liquid", "uL", block_above_mg_per_l=5000)
COPPER = Figures(
    "copper-stock", "Copper stock", "copper", "liquid", "uL", nominal_g_per_l=1.0, copper_form="ionic"
)
ALUM = Figures("potassium-alum", "Alum", "alum", "solid", "mg", content_fraction=1.0)


def batch(figures: Figures, name: str, balance: int, strength: float | None, **changes: Any) -> BatchToday:
    liquid = figures.form == "liquid"
    given: dict[str, Any] = {
        "batch_id": name,
        "material_code": figures.code,
        "substance": figures.substance,
        "form": figures.form,
        "base_unit": figures.base_unit,
        "balance": balance,
        "g_per_l": strength if liquid else None,
        "content_fraction": None if liquid else strength,
        "aged": False,
        "expires_on": date(2030, 1, 1),
        "copper_form": None,
        "drop_ml": None,
        "usable": True,
        "why_not": (),
        **changes,
    }
    return BatchToday(**given)


def mixed(
    figures: Figures, mg_per_l: float, volume_l: float, *batches: BatchToday, neutralising: bool = False
) -> Mix:
    left = {one.batch_id: one.balance for one in batches}
    return mix(
        figures,
        target_mg_per_l=mg_per_l,
        volume_l=volume_l,
        batches=batches,
        left=left,
        neutralising=neutralising,
    )


def codes(found: Mix) -> list[str]:
    return [block.code for block in found.blocks]


def test_two_bottles_of_different_strength_add_up_to_the_dose() -> None:
    old, new = batch(BLEACH, "old", 100_000, 50.0), batch(BLEACH, "new", 1_000_000, 80.0)
    found = mixed(BLEACH, 2700, 10, old, new)
    assert [portion.base_units for portion in found.portions] == [100_000, 275_000]
    # By conservation of mass: 27 g less the 5 g of the old bottle are 22 g, or 275 mL of 80 g/L.
    assert found.result_mg_per_l == pytest.approx(2700)
    assert found.missing == 0


def test_what_no_bottle_holds_is_missing_and_still_computed() -> None:
    found = mixed(BLEACH, 2700, 10, batch(BLEACH, "a", 100_000, 50.0))
    assert [portion.batch is None for portion in found.portions] == [False, True]
    assert found.missing == pytest.approx(440)
    assert found.result_mg_per_l == pytest.approx(2700)


def test_the_nominal_strength_serves_where_there_is_no_bottle() -> None:
    found = mixed(COPPER, 0.4, 40)
    assert found.missing == pytest.approx(16)
    assert codes(mixed(BLEACH, 2700, 10)) == ["no-strength"]


def test_bottles_that_may_not_be_used_are_left_alone() -> None:
    found = mixed(ALUM, 3500, 10, batch(ALUM, "a", 90_000, 1.0, usable=False), batch(ALUM, "b", 90_000, None))
    assert [portion.batch for portion in found.portions] == [None]
    assert found.missing == pytest.approx(35)


def test_the_dregs_of_a_bottle_are_left() -> None:
    found = mixed(COPPER, 0.4, 40, batch(COPPER, "dregs", 100, 1.0), batch(COPPER, "full", 500_000, 1.0))
    assert [portion.batch and portion.batch.batch_id for portion in found.portions] == ["full"]


def test_a_rest_too_small_to_measure_is_let_go() -> None:
    found = mixed(COPPER, 0.38, 40, batch(COPPER, "a", 15_100, 1.0), batch(COPPER, "b", 500_000, 1.0))
    assert [portion.batch and portion.batch.batch_id for portion in found.portions] == ["a"]
    assert found.missing == 0
    short = mixed(COPPER, 0.38, 40, batch(COPPER, "a", 15_100, 1.0))
    assert short.missing == 0
    assert codes(short) == []


def test_no_more_is_measured_than_a_bottle_holds() -> None:
    found = mixed(ALUM, 3500, 12, batch(ALUM, "a", 42_001, 1.0))
    assert [portion.base_units for portion in found.portions] == [42_000]
    tight = mixed(COPPER, 0.4, 39.8, batch(COPPER, "a", 15_920, 1.0))
    assert tight.portions[0].base_units <= 15_920


def test_less_than_five_marks_of_the_finest_device_is_refused() -> None:
    # 0.1 mL by a syringe with marks of 0.05 mL: two marks.
    found = mixed(COPPER, 0.4, 0.25, batch(COPPER, "a", 500_000, 1.0))
    assert codes(found) == ["too-small-to-measure"]
    assert "stock solution" in found.blocks[0].detail


def test_a_neutraliser_is_rounded_up_to_what_can_be_measured() -> None:
    agent = Figures("thiosulfate", "Thiosulfate", "thiosulfate", "solid", "mg", content_fraction=1.0)
    found = mixed(agent, 15, 2, batch(agent, "a", 500_000, 1.0), neutralising=True)
    assert [portion.base_units for portion in found.portions] == [50]
    assert codes(found) == []
    assert codes(mixed(agent, 15, 2, batch(agent, "a", 500_000, 1.0))) == ["too-small-to-measure"]


def test_coarse_marks_warn_and_then_refuse() -> None:
    # Marks of 0.05 mL: 0.28 mL reads 0.30 (+7 %), 0.27 reads 0.25 (-7 %).
    found = mixed(COPPER, 0.28, 1, batch(COPPER, "a", 500_000, 1.0))
    assert found.warnings
    strict = Figures("copper-stock", "Copper", "copper", "liquid", "uL", rounding_block=0.05)
    assert codes(mixed(strict, 0.28, 1, batch(strict, "a", 500_000, 1.0))) == ["rounding-too-coarse"]


# Hard caps: assumptions of the project, not from a source.
@pytest.mark.parametrize(
    ("figures", "mg_per_l", "forms", "over"),
    [
        (BLEACH, 5000, {None}, False),
        (BLEACH, 5001, {None}, True),
        (COPPER, 1.0, {"ionic"}, False),
        (COPPER, 1.1, {"ionic"}, True),
        (COPPER, 1.1, {"amine"}, True),
        (COPPER, 2.5, {"chelate"}, False),
        (COPPER, 2.6, {"chelate"}, True),
        (COPPER, 1.1, {"chelate", "ionic"}, True),
        (COPPER, 1.1, {"fairy dust"}, True),
        (COPPER, 1.1, {None}, True),
        (COPPER, 1.1, set(), True),
        (ALUM, 1_000_000, {None}, False),
    ],
)
def test_caps_hold_by_substance_and_form(
    figures: Figures, mg_per_l: float, forms: set[str | None], over: bool
) -> None:
    assert [reason.code for reason in cap_reasons(figures, mg_per_l, forms)] == ["over-cap"] * over


def test_a_dose_above_the_warning_of_ionic_copper_is_said() -> None:
    assert mixed(COPPER, 0.7, 40, batch(COPPER, "a", 500_000, 1.0, copper_form="ionic")).warnings
    assert not mixed(COPPER, 0.7, 40, batch(COPPER, "a", 500_000, 1.0, copper_form="chelate")).warnings
    assert not mixed(COPPER, 0.6, 40, batch(COPPER, "a", 500_000, 1.0)).warnings


def test_the_figures_of_a_material_of_ones_own_may_be_few() -> None:
    bare = figures_of("x", name="X", substance="salt", form="solid", base_unit="mg", document=None)
    assert (bare.nominal_per_unit, bare.unit, bare.kind) == (None, "g", "mass")
    document = {
        "content_fraction": 0.5,
        "caps": {"block_above_mg_per_l": 10},
        "element": {"symbol": "Na", "fraction": 0.39},
        "safety": None,
    }
    half = figures_of("x", name="X", substance="salt", form="solid", base_unit="mg", document=document)
    assert half.nominal_per_unit == 500
    assert half.element == ("Na", 0.39)
    assert half.block_above_mg_per_l == 10


@given(
    volume_l=st.floats(5, 500),
    strengths=st.lists(st.floats(30, 110), min_size=1, max_size=4),
    balances=st.lists(st.integers(0, 2_000_000), min_size=4, max_size=4),
)
def test_no_batch_gives_more_than_it_holds_and_mass_is_conserved(
    volume_l: float, strengths: list[float], balances: list[int]
) -> None:
    batches = [
        batch(BLEACH, str(place), balances[place], strength) for place, strength in enumerate(strengths)
    ]
    found = mixed(BLEACH, 2700, volume_l, *batches)
    for portion in found.portions:
        if portion.batch is not None:
            assert portion.base_units <= portion.batch.balance
    assert abs(found.error) <= 0.10 or found.blocks
