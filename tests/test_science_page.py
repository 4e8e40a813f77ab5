"""The page of formulas is true: its examples run, no formula is missing, names and links lead somewhere."""

import doctest
import importlib
import inspect
import pkgutil
import re
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

import service.science

PAGE = Path(__file__).parents[1] / "docs" / "science.md"
TEXT = PAGE.read_text("utf-8")
HEADING = re.compile(r"^## (.+)$", re.MULTILINE)
NAMED = re.compile(r"`([a-z_]+\.[a-z0-9_]+)`")
LINK = re.compile(r"\]\(([^)#\s]+)(?:#[^)\s]*)?\)")

# They compute nothing that a grower could ask for: guards, and steps inside formulas that are on the page.
HELPERS = {"domain", "searching", "tables"} | {
    "credit.half_borders",
    "readings.aware",
    "readings.in_order",
    "readings.seconds",
    "sampling.allowed_miss",
    "sampling.refuse_confidence",
    "thermal.refuse_cut_below",
}


def functions() -> dict[str, Callable[..., object]]:
    """Every public function of the science, as module.function."""
    modules = [name for _, name, _ in pkgutil.iter_modules(service.science.__path__)]
    return {
        f"{module}.{name}": function
        for module in modules
        for name, function in vars(importlib.import_module(f"service.science.{module}")).items()
        if inspect.isfunction(function)
        and function.__module__ == f"service.science.{module}"
        and not name.startswith("_")
    }


FUNCTIONS = functions()
FORMULAS = sorted(name for name in FUNCTIONS if not {name, name.split(".")[0]} & HELPERS)


def sections() -> Iterator[tuple[str, str]]:
    """Title and text of each section; the text keeps the page's line numbers."""
    marks = list(HEADING.finditer(TEXT))
    ends = [mark.start() for mark in marks[1:]] + [len(TEXT)]
    for mark, end in zip(marks, ends, strict=True):
        before = TEXT.count("\n", 0, mark.start())
        yield mark[1], "\n" * before + TEXT[mark.start() : end]


SECTIONS = dict(sections())
WORKED = [title for title, text in SECTIONS.items() if ">>>" in text]


@pytest.mark.parametrize("title", WORKED)
def test_the_worked_numbers_of_a_section_come_out(title: str) -> None:
    example = doctest.DocTestParser().get_doctest(SECTIONS[title], {}, title, str(PAGE), 0)
    report: list[str] = []
    runner = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE)
    runner.run(example, out=report.append)
    assert not runner.failures, "".join(report)


def test_the_page_runs_as_one_as_it_says() -> None:
    found = doctest.testfile(str(PAGE), module_relative=False, optionflags=doctest.NORMALIZE_WHITESPACE)
    assert found.failed == 0
    assert found.attempted == TEXT.count("\n>>> ")


def test_every_section_with_formulas_works_them() -> None:
    tabled = [title for title, text in SECTIONS.items() if "| answers |" in text]
    assert len(tabled) > 10
    assert set(tabled) <= set(WORKED)


@pytest.mark.parametrize("name", FORMULAS)
def test_every_formula_is_on_the_page_and_worked(name: str) -> None:
    assert f"`{name}`" in TEXT
    assert f"{name}(" in TEXT


def test_every_helper_that_is_left_out_still_exists() -> None:
    modules = {name.split(".")[0] for name in FUNCTIONS}
    assert modules | set(FUNCTIONS) >= HELPERS


def test_no_name_on_the_page_is_out_of_date() -> None:
    modules = {name.split(".")[0] for name in FUNCTIONS}
    dotted = {name for name in NAMED.findall(TEXT) if name.split(".")[0] in modules}
    assert len(dotted) > 100
    assert dotted <= set(FUNCTIONS)


def test_every_link_leads_somewhere() -> None:
    links = [link for link in LINK.findall(TEXT) if "://" not in link]
    assert links
    assert [link for link in links if not (PAGE.parent / link).exists()] == []
