"""The picture of the house in pyproject.toml is true: who imports whom."""

from pathlib import Path

from importlinter.cli import lint_imports

PICTURE = Path(__file__).parents[1] / "pyproject.toml"


def test_every_import_points_down_and_every_room_stands_in_the_picture() -> None:
    assert lint_imports(config_filename=str(PICTURE), no_cache=True, no_logo=True) == 0
