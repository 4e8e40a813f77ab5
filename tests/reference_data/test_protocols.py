"""Written treatments: doses and neutralisers against arithmetic, steps, credits, cautions."""

import json
from itertools import pairwise
from typing import Any

import pytest

from service.reference.loader import shipped
from service.reference.protocols import Protocol, Step
from tests.reference_data import weights

REFERENCE = shipped()
PROTOCOLS = REFERENCE.protocols
CASES = pytest.mark.parametrize("protocol", PROTOCOLS.values(), ids=lambda protocol: protocol.code)
DAY = 86_400


def step(code: str, kind: str) -> Step:
    return next(step for step in PROTOCOLS[code].steps if step.kind == kind and step.material)


def kills(code: str, stage: str) -> dict[str, Any]:
    credits: list[dict[str, Any]] = PROTOCOLS[code].content()["credits"]
    return {credit["pest"]: credit["kill"] for credit in credits if credit["stage"] == stage}


def test_the_six_treatments_are_there() -> None:
    assert {(code, protocol.version, protocol.method) for code, protocol in PROTOCOLS.items()} == {
        ("bleach-dip", 1, "bleach_dip"),
        ("alum-soak", 1, "alum_soak"),
        ("copper-course", 1, "copper_course"),
        ("permanganate-dip", 1, "permanganate_dip"),
        ("peroxide-dip", 1, "peroxide_dip"),
        ("quarantine-only", 1, "quarantine_only"),
    }


@CASES
def test_a_treatment_tells_cautions_wear_and_disposal(protocol: Protocol) -> None:
    assert protocol.cautions
    assert protocol.protective_wear
    assert protocol.disposal


@CASES
def test_steps_are_numbered_in_order_and_last_within_their_limits(protocol: Protocol) -> None:
    assert [step.n for step in protocol.steps] == list(range(1, len(protocol.steps) + 1))
    for step in protocol.steps:
        assert step.duration.min_s <= step.duration.target_s <= step.duration.max_s


@CASES
def test_materials_exist_and_doses_are_made_up_to_the_volume(protocol: Protocol) -> None:
    for step in protocol.steps:
        assert step.material is None or step.material in REFERENCE.materials
        assert (step.dose is None) == (step.basis is None)
        assert step.dose is None or step.material


@CASES
def test_doses_stay_below_the_guard_rails_of_their_material(protocol: Protocol) -> None:
    for step in protocol.steps:
        caps = REFERENCE.materials[step.material].caps if step.material else None
        if caps and step.dose:
            mg_per_l = step.dose.value * {"mg/L": 1, "g/L": 1000}[step.dose.unit]
            assert mg_per_l <= (caps.warn_above_mg_per_l or caps.block_above_mg_per_l)


@CASES
def test_materials_that_follow_each_other_may_meet(protocol: Protocol) -> None:
    used = [REFERENCE.materials[step.material].substance for step in protocol.steps if step.material]
    for before, after in pairwise(used):
        assert REFERENCE.incompatibilities.verdict(before, after) in {"neutraliser", "none"}


@CASES
def test_neutralisers_name_a_material_and_the_agent_it_is(protocol: Protocol) -> None:
    named = [(step.material, step.agent) for step in protocol.steps if step.kind == "neutralise"]
    if protocol.neutraliser:
        named.append((protocol.neutraliser.material, protocol.neutraliser.agent))
    for material, agent in named:
        assert material is not None
        assert REFERENCE.materials[material].neutraliser_agent == agent


@pytest.mark.parametrize("code", [code for code, protocol in PROTOCOLS.items() if protocol.substance])
def test_a_treatment_with_a_substance_starts_with_bare_plants_and_doses_its_target(code: str) -> None:
    protocol = PROTOCOLS[code]
    first, bath = protocol.steps[0], protocol.steps[1]
    assert (first.kind, first.material) == ("rinse", None)
    assert first.title == "Off with pot, wool and dead leaves; strain the wash water"
    assert bath.material is not None
    assert bath.dose is not None
    assert protocol.target is not None
    assert REFERENCE.materials[bath.material].substance == protocol.substance == protocol.target.substance
    assert bath.dose.value * {"mg/L": 1, "g/L": 1000}[bath.dose.unit] == protocol.target.value
    assert [step.n for step in protocol.steps if step.kills_adults] == [bath.n]
    assert protocol.residue.kind == protocol.substance


@pytest.mark.parametrize(
    "code", ["bleach-dip", "alum-soak", "copper-course", "permanganate-dip", "peroxide-dip"]
)
def test_a_chemical_ends_with_a_rinse(code: str) -> None:
    assert PROTOCOLS[code].steps[-1].kind == "rinse"


def test_quarantine_only_uses_no_chemical_and_kills_nothing() -> None:
    quarantine = PROTOCOLS["quarantine-only"]
    assert [(step.kind, step.material) for step in quarantine.steps] == [("hold", None)]
    assert quarantine.content()["credits"] == []
    assert quarantine.residue.kind == "none"


def test_the_bleach_dip_is_one_part_of_five_and_a_quarter_per_cent_in_twenty() -> None:
    # mailing list of 1999: 1 + 19 for 2 minutes; density 1.071 g/mL of fresh 5.25 % w/w bleach
    chlorine_share = 0.0525 * 2 * weights.CHLORINE / weights.HYPOCHLORITE
    dose = step("bleach-dip", "dip").dose
    assert dose is not None
    assert dose.value == pytest.approx(chlorine_share * 1.071 * 1e6 / 20, rel=0.01)


def test_the_bleach_dip_lasts_two_minutes_and_at_most_a_quarter_more() -> None:
    duration = step("bleach-dip", "dip").duration
    assert (duration.target_s, duration.max_s) == (120, 150)


def test_the_bleach_rinse_is_neutralised_for_five_minutes_as_if_not_yet_rinsed() -> None:
    neutralise = step("bleach-dip", "neutralise")
    assert (neutralise.duration.target_s, neutralise.purpose) == (300, "rinse")
    assert neutralise.assumed_residue is not None
    assert neutralise.assumed_residue.value == pytest.approx(2700 * 0.2 / 10.2, rel=0.01)


def test_the_alum_soak_holds_about_two_hundred_milligrams_of_aluminium() -> None:
    # a tablespoon (13-15 g) to the US gallon: 195-225 mg/L aluminium, by arithmetic
    soak = step("alum-soak", "soak")
    assert soak.dose is not None
    aluminium = soak.dose.value * 1000 * weights.ALUMINIUM / weights.POTASSIUM_ALUM
    assert 195 <= aluminium <= 225
    assert (soak.duration.min_s, soak.duration.max_s) == (2 * DAY, 3 * DAY)
    assert sum(step.kind == "rinse" and step.n > soak.n for step in PROTOCOLS["alum-soak"].steps) == 2


def test_the_copper_course_is_held_for_four_weeks_and_dosed_at_every_full_change() -> None:
    course = PROTOCOLS["copper-course"]
    assert step("copper-course", "soak").duration.target_s == 28 * DAY
    assert course.water_change is not None
    assert (course.water_change.fraction, course.water_change.redose) == (1.0, True)
    assert sum(course.water_change.every_days) == 7
    assert len(course.water_change.every_days) == course.water_change.per_week
    assert course.maintained_dose is not None
    assert course.target is not None
    assert course.maintained_dose.value == course.target.value


def test_copper_credits_adults_after_four_doses_and_eggs_only_when_measured() -> None:
    # four doses of 0.4 mg/L killed all adults; 0.6 mg/L over 4 days killed all embryos (two abstracts)
    course = PROTOCOLS["copper-course"]
    assert course.adults_credited_after is not None
    assert course.adults_credited_after.dose == 4
    earned = {(m.min_mg_per_l, m.hours, m.doses) for m in course.measured_course}
    assert earned == {(0.6, 96, None), (0.4, None, 4)}
    eggs = [group for group in course.credits if "egg" in group.stages and group.kill > 0]
    assert eggs
    assert all(group.needs_measured_course for group in eggs)


@pytest.mark.parametrize("code", ["peroxide-dip", "permanganate-dip"])
def test_weak_dips_are_credited_with_no_eggs(code: str) -> None:
    assert set(kills(code, "egg").values()) == {0.0}


@CASES
def test_no_treatment_is_credited_with_cocoons_or_apple_snails(protocol: Protocol) -> None:
    assert kills(protocol.code, "egg").get("planarian", 0.0) == 0.0
    assert all("apple_snail" not in group.pests for group in protocol.credits)


@CASES
def test_credits_speak_once_of_each_stage_that_the_pest_has(protocol: Protocol) -> None:
    said = [(credit["pest"], credit["stage"]) for credit in protocol.content()["credits"]]
    assert len(said) == len(set(said))
    assert all(stage in REFERENCE.pests[pest].stages for pest, stage in said)


def test_snails_with_a_lid_survive_bleach_and_permanganate() -> None:
    # Mitchell & Cole 2008, N. Am. J. Fish. Manage. 28:1597-1600
    for code in ("bleach-dip", "permanganate-dip"):
        assert kills(code, "adult")["gilled_snail"] < 0.5
        assert kills(code, "adult")["trumpet_snail"] < 0.5


@pytest.mark.parametrize(
    ("code", "mg_per_mg"),
    [
        # 8 MnO4- + 3 S2O3 2-; 3 HCO3- per Al3+; H2O2 + 2 S2O3 2-: stoichiometry
        ("permanganate-dip", 3 * weights.THIOSULFATE_PENTAHYDRATE / (8 * weights.PERMANGANATE)),
        ("alum-soak", 3 * weights.BICARBONATE / weights.POTASSIUM_ALUM),
        ("peroxide-dip", 2 * weights.THIOSULFATE_PENTAHYDRATE / weights.PEROXIDE),
    ],
)
def test_spent_baths_are_neutralised_by_stoichiometry(code: str, mg_per_mg: float) -> None:
    neutraliser = PROTOCOLS[code].neutraliser
    assert neutraliser is not None
    assert neutraliser.mg_per_mg == pytest.approx(mg_per_mg, rel=2e-3)


def test_thiosulfate_for_permanganate_is_a_quarter_more_than_needed() -> None:
    dose = step("permanganate-dip", "neutralise").dose
    assert dose is not None
    needed = 20 * 3 * weights.THIOSULFATE_PENTAHYDRATE / (8 * weights.PERMANGANATE)
    assert dose.value == pytest.approx(1.25 * needed, rel=0.03)


def test_a_spent_bleach_dip_is_neutralised_with_bicarbonate_beside_thiosulfate() -> None:
    # Boal & Patsalis 2017, J. AWWA: thiosulfate lowers the pH strongly
    neutraliser = PROTOCOLS["bleach-dip"].neutraliser
    assert neutraliser is not None
    assert neutraliser.with_material == "sodium-bicarbonate"
    assert neutraliser.with_material in REFERENCE.materials


def test_wool_keeps_plants_out_of_bleach_and_copper() -> None:
    assert {code for code, protocol in PROTOCOLS.items() if protocol.avoid_wool} == {
        "bleach-dip",
        "copper-course",
    }


def test_development_counts_half_in_long_chemical_soaks() -> None:
    assert {code for code, protocol in PROTOCOLS.items() if protocol.soak_counts_half} == {
        "alum-soak",
        "copper-course",
    }


@CASES
def test_the_content_is_plain_json_that_comes_back_equal(protocol: Protocol) -> None:
    content = protocol.content()
    assert json.loads(json.dumps(content)) == content
    assert (content["code"], content["version"]) == (protocol.code, protocol.version)


def test_changing_a_content_leaves_the_reference_as_it_was() -> None:
    PROTOCOLS["alum-soak"].content()["steps"].clear()
    assert PROTOCOLS["alum-soak"].content()["steps"]
