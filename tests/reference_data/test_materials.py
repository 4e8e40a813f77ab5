"""Materials: strengths against molar masses, hazards, and what they must never meet."""

import pytest

from service.reference.loader import shipped
from service.reference.materials import Material
from tests.reference_data import weights

MATERIALS = shipped().materials
CASES = pytest.mark.parametrize("material", MATERIALS.values(), ids=lambda material: material.code)


def test_the_dips_and_their_neutralisers_are_there() -> None:
    assert {material.substance for material in MATERIALS.values()} == {
        "chlorine",
        "alum",
        "copper",
        "permanganate",
        "peroxide",
        "thiosulfate",
        "bicarbonate",
        "ascorbate",
        "sulfite",
        "salt",
    }


@CASES
def test_liquids_are_kept_in_microlitres_and_solids_in_milligrams(material: Material) -> None:
    assert material.base_unit == {"liquid": "uL", "solid": "mg"}[material.form]


@CASES
def test_the_strength_of_a_material_is_known_or_asked_of_the_bottle(material: Material) -> None:
    if material.form == "solid":
        assert material.content_fraction
        assert material.nominal_g_per_l is None
        assert material.strength_basis == ("mass_fraction",)
    else:
        assert material.content_fraction is None
        assert material.nominal_g_per_l or material.ageing


def test_bleach_has_no_nominal_strength_and_four_ways_to_state_one() -> None:
    # White, Handbook of Chlorination (1972): the usual strength expressions
    bleach = MATERIALS["bleach"]
    assert bleach.nominal_g_per_l is None
    assert bleach.strength_basis == ("naocl_ww", "naocl_wv", "avail_cl_ww", "trade")
    assert bleach.label_strengths_percent == (5.25, 6.0, 8.25)
    assert bleach.ageing == "hypochlorite_second_order"


def test_aluminium_and_copper_shares_agree_with_molar_masses() -> None:
    alum, copper = MATERIALS["potassium-alum"].element, MATERIALS["copper-sulfate"].element
    assert alum is not None
    assert copper is not None
    assert alum.fraction == pytest.approx(weights.ALUMINIUM / weights.POTASSIUM_ALUM, rel=1e-3)
    assert copper.fraction == pytest.approx(weights.COPPER / weights.COPPER_SULFATE_PENTAHYDRATE, rel=1e-3)
    assert MATERIALS["copper-sulfate"].content_fraction == copper.fraction


def test_the_copper_stock_is_made_as_its_source_says() -> None:
    copper_g_per_l = 3.929 * weights.COPPER / weights.COPPER_SULFATE_PENTAHYDRATE
    assert MATERIALS["copper-stock"].nominal_g_per_l == pytest.approx(copper_g_per_l, rel=1e-3)
    assert MATERIALS["copper-stock"].copper_form == "ionic"


def test_percent_weight_in_volume_is_ten_grams_per_litre() -> None:
    assert MATERIALS["hydrogen-peroxide"].nominal_g_per_l == 30
    assert MATERIALS["permanganate-stock"].nominal_g_per_l == 10


def test_a_us_tablespoon_of_alum_to_the_us_gallon_is_the_soak() -> None:
    # NIST Handbook 44: gallon 3.785411784 L, tablespoon gallon/256
    density = MATERIALS["potassium-alum"].density_g_per_ml
    assert density is not None
    assert density * 1000 / 256 == pytest.approx(3.5, rel=0.01)


@CASES
def test_a_material_tells_wear_disposal_and_cautions(material: Material) -> None:
    safety = material.safety
    assert safety.protective_wear
    assert safety.disposal
    assert safety.cautions


@pytest.mark.parametrize("code", ["bleach", "copper-stock", "copper-sulfate", "permanganate-stock"])
def test_dangerous_materials_carry_signal_word_and_pictograms(code: str) -> None:
    # inventory sheets and suppliers' safety data sheets named in the data
    assert MATERIALS[code].safety.signal_word == "danger"
    assert MATERIALS[code].safety.pictograms
    assert "H410" in {hazard.code for hazard in MATERIALS[code].safety.hazards}


@CASES
def test_what_a_material_must_never_meet_is_what_the_table_says(material: Material) -> None:
    assert set(material.never_with) == shipped().incompatibilities.never_with(material.substance)


@CASES
def test_an_opened_container_keeps_no_longer_than_a_closed_one(material: Material) -> None:
    assert material.keeping.opened_life_days <= material.keeping.shelf_life_days


@CASES
def test_guard_rails_warn_before_they_refuse(material: Material) -> None:
    assert material.rounding.warn_above < material.rounding.block_above
    caps, potency = material.caps, material.potency
    assert caps is None or (caps.warn_above_mg_per_l or 0) < caps.block_above_mg_per_l
    assert potency is None or potency.block_below_share < potency.warn_below_share
