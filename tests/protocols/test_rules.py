"""What a written treatment must say, and what must never follow what."""

from typing import Any

import pytest

from service.protocols.queries import between
from service.protocols.rules import (
    Residue,
    Washing,
    planned_reasons,
    residues,
    sequence_reasons,
)
from service.protocols.rules_content import content_reasons
from tests.make_protocols import dip

BLEACH, ALUM, THIOSULFATE = (
    Washing("bath", "chlorine"),
    Washing("bath", "alum"),
    Washing("bath", "thiosulfate"),
)
RINSE = Washing("rinse")
SUBSTANCES = {"salt": "salt", "bleach": "chlorine", "thiosulfate": "thiosulfate", "copper-stock": "copper"}


def clean(mg_per_l: float) -> Washing:
    return Washing("reading", "chlorine", mg_per_l)


# Source: Chlorine Institute, hypochlorite incompatibility chart (names alum among acids). The ways out
# are assumptions: three rinses and less than 0.1 mg/L, or a neutralising step and a rinse.
@pytest.mark.parametrize(
    ("past", "substance", "safe"),
    [
        ([], "alum", True),
        ([BLEACH], "alum", False),
        ([BLEACH], "carbonated_water", False),
        ([BLEACH], "chlorine", True),
        ([BLEACH], "salt", True),
        ([BLEACH], "thiosulfate", True),
        ([BLEACH], "copper", False),
        ([BLEACH, RINSE], "copper", True),
        ([BLEACH, RINSE], "alum", False),
        ([BLEACH, RINSE, RINSE, RINSE], "alum", False),
        ([BLEACH, RINSE, RINSE, RINSE, clean(0.05)], "alum", True),
        ([BLEACH, RINSE, RINSE, RINSE, clean(0.2)], "alum", False),
        ([BLEACH, RINSE, RINSE, clean(0.05), RINSE], "alum", False),
        ([BLEACH, clean(0.05)], "alum", False),
        ([BLEACH, RINSE, THIOSULFATE], "alum", False),
        ([BLEACH, RINSE, THIOSULFATE, RINSE], "alum", True),
        ([BLEACH, RINSE, THIOSULFATE, RINSE, BLEACH], "alum", False),
        ([ALUM, RINSE, RINSE], "chlorine", False),
        ([ALUM, RINSE, RINSE, RINSE], "chlorine", True),
        ([Washing("bath", "permanganate")], "chlorine", False),
        ([Washing("bath", "permanganate"), RINSE, RINSE, RINSE], "chlorine", True),
    ],
)
def test_a_residue_stands_against_what_must_not_meet_it(
    past: list[Washing], substance: str, safe: bool
) -> None:
    assert (sequence_reasons(residues(past, between), substance, between) == []) is safe


def test_the_reason_says_the_way_out() -> None:
    [reason] = sequence_reasons([Residue("chlorine", rinses=1)], "alum", between)
    assert reason.code == "unsafe-sequence"
    assert reason.needed == (
        "Record 3 rinses and a reading below 0.1 mg/L, or a neutralising step and a rinse."
    )
    assert reason.have == "1 rinses"
    [reason] = sequence_reasons([Residue("chlorine")], "copper", between)
    assert reason.needed == "Record 1 rinse."
    [reason] = sequence_reasons([Residue("alum")], "chlorine", between)
    assert reason.needed == "Record 3 rinses, the pH back to that of the source water."
    [reason] = sequence_reasons([Residue("permanganate")], "chlorine", between)
    assert reason.needed == "Record 3 rinses, the colour gone."


def test_substances_that_nobody_judged_must_never_meet() -> None:
    [reason] = sequence_reasons([Residue("vinegar", rinses=9)], "chlorine", between)
    assert reason.needed == "There is no way out: use other plants and another tub."
    assert sequence_reasons([Residue("vinegar")], "vinegar", between) == []


def test_the_rinses_of_a_treatment_count_for_its_later_steps() -> None:
    steps: list[tuple[str, str | None]] = [("rinse", None), ("dip", "chlorine")]
    assert planned_reasons([ALUM, RINSE, RINSE], steps, between) == []
    assert planned_reasons([ALUM, RINSE], steps, between) != []
    assert planned_reasons([], [("dip", "chlorine"), ("hold", None), ("soak", "alum")], between) != []


def wrong(body: dict[str, Any]) -> list[str]:
    found = content_reasons(body, SUBSTANCES, {"bladder_snail"})
    return [str(reason.pointer) for reason in found]


def content(**changes: Any) -> dict[str, Any]:
    return dip("salt-dip", "salt", "salt", 35, "g/L", **changes)


def stepped(place: int, **changes: Any) -> dict[str, Any]:
    made = content()
    made["steps"][place - 1] |= changes
    return made


HELD = {"substance": "salt", "value": 35_000, "unit": "mg/L", "decay_per_day": 0.1}
RHYTHM = {"every_days": [3, 4], "fraction": 1.0}
NEUTRALISE = {"kind": "neutralise", "material": "thiosulfate", "dose": None}


@pytest.mark.parametrize(
    ("body", "pointers"),
    [
        (content(), []),
        (stepped(2, n=3), ["#/steps/1/n"]),
        (stepped(2, duration={"target_s": 9, "min_s": 10, "max_s": 20}), ["#/steps/1/duration"]),
        (stepped(2, material="elixir"), ["#/steps/1/material"]),
        (stepped(2, material="bleach"), ["#/steps/1/material"]),
        (stepped(2, material=None), ["#/steps/1/material"]),
        (stepped(2, dose=None), ["#/steps/1/dose"]),
        (stepped(1, material="salt"), ["#/steps/0/material"]),
        (stepped(2, **NEUTRALISE), ["#/steps/1/dose"]),
        (stepped(2, **NEUTRALISE, assumed_residue={"value": 5}), []),
        (content(adults_credited_after={"dose": 4}), ["#/adults_credited_after"]),
        (content(maintained_dose=HELD), ["#/water_change", "#/maintained_dose"]),
        (
            stepped(2, kind="soak")
            | {"maintained_dose": HELD | {"substance": "copper"}, "water_change": RHYTHM},
            ["#/maintained_dose/substance"],
        ),
        (stepped(2, kind="soak") | {"maintained_dose": HELD, "water_change": RHYTHM}, []),
        (content(neutraliser={"material": "elixir"}), ["#/neutraliser/material"]),
        (
            content(neutraliser={"material": "salt", "with_material": "elixir"}),
            ["#/neutraliser/with_material"],
        ),
        (content(credits=[{"pest": "unicorn"}]), ["#/credits/0/pest"]),
        (content(credits=[{"pest": "bladder_snail"}]), []),
    ],
)
def test_what_is_wrong_with_a_written_treatment_is_named_by_its_pointer(
    body: dict[str, Any], pointers: list[str]
) -> None:
    assert wrong(body) == pointers
