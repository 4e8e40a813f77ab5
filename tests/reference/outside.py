"""The mark of a test that holds one outside value against ours, and the count that the run prints."""

from collections import Counter
from collections.abc import Sequence
from enum import StrEnum
from pathlib import Path

import pytest

HERE = Path(__file__).parent


class Kind(StrEnum):
    """Where an outside value comes from, the strongest first."""

    STANDARD = "standard or law"
    TABLE = "published table"
    WORKED = "published worked example"
    PAPER = "paper"
    LIBRARY = "general reference library"
    PRACTICE = "common practice, no source"
    MEMORY = "from memory"


def outside(kind: Kind, source: str) -> pytest.MarkDecorator:
    """Mark a test (or one parameter of it) as one outside value; `source` says where it can be looked up."""
    return pytest.mark.outside(kind, source)


class Counting:
    """The pytest plugin: every test in this folder names its source, and the run says how many agreed."""

    def pytest_collection_modifyitems(self, items: Sequence[pytest.Item]) -> None:
        for item in items:
            mark = item.get_closest_marker("outside")
            if mark is not None:
                item.user_properties.append(("outside", str(mark.args[0])))
            elif item.path.parent == HERE:
                raise pytest.UsageError(f"{item.nodeid} does not say where its value comes from.")

    def pytest_terminal_summary(self, terminalreporter: pytest.TerminalReporter) -> None:
        agreed = Counter(
            value
            for report in terminalreporter.stats.get("passed", [])
            for name, value in getattr(report, "user_properties", ())
            if name == "outside" and report.when == "call"
        )
        if agreed:
            terminalreporter.section("outside values that agree")
            for kind in Kind:
                terminalreporter.line(f"{agreed[kind]:6d}  {kind}")
            terminalreporter.line(f"{sum(agreed.values()):6d}  in all")
