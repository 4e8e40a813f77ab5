"""docs/promises.md names for each promise the files whose tests are marked with it, and no others."""

import ast
import re
from collections import defaultdict
from collections.abc import Iterator
from functools import cache
from pathlib import Path

TESTS = Path(__file__).parents[1]
PAGE = TESTS.parent / "docs" / "promises.md"
ROW = re.compile(r"^\| R(\d+) \|.*\|([^|]*)\|$", re.MULTILINE)
FILE = re.compile(r"`([^`]+)`")
PROMISES = range(1, 31)


def marks(function: ast.FunctionDef) -> Iterator[int]:
    """The promises that a test is marked with."""
    for mark in function.decorator_list:
        if isinstance(mark, ast.Call) and ast.unparse(mark.func) == "pytest.mark.promise":
            yield ast.literal_eval(mark.keywords[0].value)


@cache
def marked() -> dict[int, set[str]]:
    """For each promise the files that pytest finds its tests in."""
    found: dict[int, set[str]] = defaultdict(set)
    for file in TESTS.rglob("test_*.py"):
        source = file.read_text("utf-8")
        for node in ast.parse(source).body if "mark.promise" in source else ():
            if isinstance(node, ast.FunctionDef) and node.name.startswith("test_"):
                for promise in marks(node):
                    found[promise].add(file.relative_to(TESTS).as_posix())
    return found


def test_every_promise_has_tests() -> None:
    assert set(marked()) == set(PROMISES)


def test_the_page_names_the_files_that_hold_each_promise() -> None:
    rows = {int(number): set(FILE.findall(files)) for number, files in ROW.findall(PAGE.read_text("utf-8"))}
    assert list(rows) == list(PROMISES)
    assert {number: files for number, files in rows.items() if files} == marked()
