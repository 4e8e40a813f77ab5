"""The compose file as the tests see it."""

import re
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

from ruamel.yaml import YAML

ROOT = Path(__file__).parents[2]
COMPOSE_FILE = ROOT / "docker-compose.yml"
OURS = ("migrate", "web", "worker", "beat")


def composition() -> Mapping[str, Any]:
    """The whole file, anchors resolved."""
    found: Mapping[str, Any] = YAML(typ="safe").load(COMPOSE_FILE)
    return found


def services() -> Mapping[str, Mapping[str, Any]]:
    """The services by name."""
    found: Mapping[str, Mapping[str, Any]] = composition()["services"]
    return found


def variables() -> Iterator[tuple[str, str]]:
    """Every `${NAME...}` of the file as (NAME, what follows it)."""
    yield from re.findall(r"\$\{(\w+)([^}]*)\}", COMPOSE_FILE.read_text("utf-8"))
