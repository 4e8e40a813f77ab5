"""The picture of the house in pyproject.toml is true: who imports whom."""

import re
import tomllib
from pathlib import Path

import grimp
from importlinter.cli import lint_imports

PICTURE = Path(__file__).parents[1] / "pyproject.toml"
RULES = re.compile(r"service\.\w+\.rules(_\w+)?")


def test_every_import_points_down_and_every_room_stands_in_the_picture() -> None:
    assert lint_imports(config_filename=str(PICTURE), no_cache=True, no_logo=True) == 0


def test_rules_that_were_split_by_noun_are_as_pure_as_the_rest() -> None:
    # A contract can name only whole modules, not `rules_*`.
    contracts = tomllib.loads(PICTURE.read_text("utf-8"))["tool"]["importlinter"]["contracts"]
    impure = next(set(c["forbidden_modules"]) for c in contracts if c["name"] == "Science and rules are pure")
    house = grimp.build_graph("service", include_external_packages=True, cache_dir=None)
    rules = {module for module in house.modules if RULES.fullmatch(module)}
    assert rules
    assert {
        module: found for module in rules if (found := house.find_upstream_modules(module) & impure)
    } == {}
