"""Data that has not the shape it should have is refused, naming file, entry and field."""

import shutil
from pathlib import Path

import pytest

from service.reference.loader import DATA, load
from service.reference.problem import ReferenceProblem


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    return Path(shutil.copytree(DATA, tmp_path / "data"))


def refusal(folder: Path, file: str, old: str, new: str) -> ReferenceProblem:
    """The refusal of the shipped data with the first `old` in `file` replaced by `new`."""
    path = folder / file
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")
    with pytest.raises(ReferenceProblem) as caught:
        load(folder)
    return caught.value


@pytest.mark.parametrize(
    ("file", "old", "new", "entry", "field", "detail"),
    [
        ("pests.toml", "anchor_days = 8.5", 'anchor_days = "8.5"', "bladder_snail", "development.anchor_days",
         "must be a number, is '8.5'"),
        ("pests.toml", "anchor_c = 25.0", "anchor_c = nan", "bladder_snail", "development.anchor_c",
         "must be a number, is nan"),
        ("pests.toml", "anchor_c = 25.0", "anchor_c = true", "bladder_snail", "development.anchor_c",
         "must be a number, is True"),
        ("pests.toml", "anchor_days = 8.5", "anchor_days = 0", "bladder_snail", "development.anchor_days",
         "must be more than 0, is 0"),
        ("pests.toml", "per_mass_low = 7", "per_mass_low = 7.5", "bladder_snail", "eggs.per_mass_low",
         "must be a whole number, is 7.5"),
        ("pests.toml", "per_mass_low = 7", "per_mass_low = true", "bladder_snail", "eggs.per_mass_low",
         "must be a whole number, is True"),
        ("pests.toml", "per_mass_low = 7", "per_mass_low = 0", "bladder_snail", "eggs.per_mass_low",
         "must be 1 or more, is 0"),
        ("pests.toml", "lays_eggs = true", "lays_eggs = 1", "bladder_snail", "lays_eggs",
         "must be true or false, is 1"),
        ("pests.toml", 'name = "Bladder snail"', 'name = " "', "bladder_snail", "name",
         "must be text, is ' '"),
        ("pests.toml", 'name = "Bladder snail"', "name = 3", "bladder_snail", "name", "must be text, is 3"),
        ("pests.toml", 'name = "Bladder snail"', "", "bladder_snail", "name", "is missing"),
        ("pests.toml", 'name = "Bladder snail"', 'name = "Bladder snail"\nhue = "red"', "bladder_snail",
         "hue",
         "is not a known field"),
        ("pests.toml", 'category = "hitch_hiker"', 'category = "guest"', "bladder_snail", "category",
         "must be one of hitch_hiker, harmless, plant_pest, is 'guest'"),
        ("pests.toml", 'stages = ["egg", ', 'stages = ["spawn", ', "bladder_snail", "stages.0",
         "must be one of egg, hatchling, juvenile, adult, is 'spawn'"),
        ("pests.toml", 'stages = ["egg", "hatchling", "juvenile", "adult"]', 'stages = "egg"',
         "bladder_snail",
         "stages", "must be a list, is 'egg'"),
        ("pests.toml", 'code = "ramshorn_snail"', 'code = "bladder_snail"', "bladder_snail", "code",
         "occurs twice"),
        ("pests.toml", 'code = "bladder_snail"', "", "pests 1", "code", "is missing"),
        ("detection.toml", "strain = 0.9", "strain = 1.5", "snail-adult", "strain",
         "must be 1 or less, is 1.5"),
        ("detection.toml", "eyes = { broad_leaf = 0.95, ", "eyes = { ", "snail-adult", "eyes.broad_leaf",
         "is missing"),
        ("detection.toml", "{ broad_leaf = 20, ", "{ ", "look_time", "seconds_per_unit.broad_leaf",
         "is missing"),
        ("detection.toml", "{ broad_leaf = 20, ", "{ seaweed = 20, ", "general",
         "look_time.seconds_per_unit.seaweed",
         "must be one of broad_leaf, stem_rosette, moss_fine, is 'seaweed'"),
        ("detection.toml", "eyes = { broad_leaf = 0.95, stem_rosette = 0.9, moss_fine = 0.75 }", "eyes = 0.9",
         "snail-adult", "eyes", "must be a table, is 0.9"),
        ("plants.toml", 'copper_course = "caution"\n', "", "leptochilus-pteropus", "takes.copper_course",
         "is missing"),
        ("plants.toml", 'copper_course = "caution"', 'copper_course = "loves"', "leptochilus-pteropus",
         "takes.copper_course", "must be one of tolerates, caution, avoid, unknown, is 'loves'"),
        ("plants.toml", "names = {", "names = 5 #", "leptochilus-pteropus", "names", "must be a table, is 5"),
        ("restrictions.toml", 'scientific_name = "Cabomba caroliniana"',
         'scientific_name = "Alternanthera philoxeroides"', "EU + Alternanthera philoxeroides",
         "scientific_name", "occurs twice"),
        ("materials.toml", "opened_life_days = 180", "opened_life_days = 0", "bleach",
         "keeping.opened_life_days", "must be 1 or more, is 0"),
        ("materials.toml", 'code = "H290", ', "", "bleach", "safety.hazards.0.code", "is missing"),
        ("protocols.toml", "target_s = 120", "target_s = -1", "bleach-dip", "steps.1.duration.target_s",
         "must be 0 or more, is -1"),
        ("protocols.toml", 'kind = "none"', 'kind = "soap"', "quarantine-only", "residue.kind",
         "must be one of chlorine, alum, acid, ammonium, permanganate, peroxide, copper, thiosulfate, "
         "sulfite, "
         "bisulfite, ascorbate, ascorbic_acid, salt, carbonated_water, bicarbonate, none, is 'soap'"),
        ("policies.toml", "coverage = 0.9", "coverage = 90", "standard", "temperature_log.coverage",
         "must be 1 or less, is 90"),
        ("cautions.toml", 'shown_on = ["sheet"]', 'shown_on = ["wall"]', "label-and-law", "shown_on.0",
         "must be one of sheet, statement, is 'wall'"),
        ("incompatibilities.toml", '["salt", "salt"]', '["salt", "salt", "salt"]', "no_hazard_known",
         "pairs.",
         "must be a list of 2, has 3"),
        ("incompatibilities.toml", '["salt", "salt"]', '["alum", "chlorine"]', "alum + chlorine", "b",
         "this pair occurs twice"),
        ("version.toml", '"2026', '"" #', "", "version", "must be text, is ''"),
        ("version.toml", "version =", "edition =", "", "edition", "is not a known part"),
        ("version.toml", "version =", "#", "", "version", "is missing"),
    ],
)  # fmt: skip
def test_a_wrong_figure_is_refused_by_name(
    folder: Path, file: str, old: str, new: str, *, entry: str, field: str, detail: str
) -> None:
    problem = refusal(folder, file, old, new)
    assert (problem.file, problem.entry, problem.detail) == (file, entry, detail)
    assert problem.field.startswith(field)


def test_the_sentence_names_file_entry_and_field(folder: Path) -> None:
    problem = refusal(folder, "pests.toml", "anchor_days = 8.5", "anchor_days = -1")
    assert str(problem) == "pests.toml: bladder_snail: development.anchor_days: must be more than 0, is -1"


def test_a_refusal_is_a_value_error(folder: Path) -> None:
    assert isinstance(refusal(folder, "version.toml", "version =", "#"), ValueError)


def test_a_file_that_is_not_toml_is_refused(folder: Path) -> None:
    problem = refusal(folder, "version.toml", "version =", "version")
    assert str(problem).startswith("version.toml: is not TOML: ")


@pytest.mark.parametrize("entries", ["pests = []", 'pests = "none"'])
def test_a_file_without_entries_is_refused(folder: Path, entries: str) -> None:
    (folder / "pests.toml").write_text(entries, encoding="utf-8")
    with pytest.raises(ReferenceProblem, match=r"pests\.toml: pests: must be a list of tables"):
        load(folder)


def test_an_entry_that_is_no_table_is_refused_by_its_position(folder: Path) -> None:
    (folder / "pests.toml").write_text("pests = [1]", encoding="utf-8")
    with pytest.raises(ReferenceProblem, match=r"pests\.toml: pests 1: must be a table, is 1"):
        load(folder)
