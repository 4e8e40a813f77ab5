"""Places for houses that are read back."""

from pathlib import Path

import pytest

from service.core.settings import Settings
from tests.house import settings_for


@pytest.fixture
def empty(tmp_path: Path) -> Settings:
    home = tmp_path / "other"
    home.mkdir()
    return settings_for(f"sqlite:///{home / 'house.sqlite3'}", home)
