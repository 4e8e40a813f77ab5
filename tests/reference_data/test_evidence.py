"""Every figure says where it comes from and how good that is."""

import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import fields, is_dataclass
from typing import Any, get_args

import pytest

from service.reference.loader import DATA, load, shipped
from service.reference.words import Grade

NO_FIGURES = {"version", "n"}  # they count versions and steps


def unsourced(value: Any, path: str, *, sourced: bool = False) -> Iterator[str]:
    """Paths of the numbers that stand in no group with a source and a grade."""
    if is_dataclass(value):
        sourced = sourced or bool(getattr(value, "source", "") and getattr(value, "grade", ""))
    for name, item in parts(value):
        yield from unsourced(item, f"{path}.{name}", sourced=sourced)
    if isinstance(value, int | float) and not isinstance(value, bool) and not sourced:
        yield path


def parts(value: Any) -> Iterable[tuple[object, Any]]:
    if is_dataclass(value):
        return [(f.name, getattr(value, f.name)) for f in fields(value) if f.name not in NO_FIGURES]
    if isinstance(value, Mapping):
        return value.items()
    return enumerate(value) if isinstance(value, tuple) else ()


def test_every_figure_stands_beside_its_source_and_grade() -> None:
    assert list(unsourced(shipped(), "reference")) == []


def test_the_walk_would_notice_a_figure_without_source() -> None:
    assert list(unsourced({"dose": 3.5}, "reference")) == ["reference.dose"]


def test_most_figures_that_are_not_read_in_a_source_say_so() -> None:
    grades = {policy.hatch.grade for policy in shipped().policies.values()}
    assert grades <= set(get_args(Grade)) - {"published"}


def test_the_version_names_a_month_and_a_number() -> None:
    assert re.fullmatch(r"20\d\d\.(0[1-9]|1[0-2])-[1-9]\d*", shipped().version)


def test_the_shipped_data_are_what_the_folder_holds() -> None:
    assert shipped() == load(DATA)
    assert shipped() is shipped()


@pytest.mark.parametrize("paper", ["sheet", "statement"])
def test_every_paper_has_its_cautions(paper: str) -> None:
    assert any(paper in caution.shown_on for caution in shipped().cautions)


def test_a_bleach_sheet_warns_of_acid_and_ammonia_wear_and_label() -> None:
    # Chlorine Institute hypochlorite chart and public-health advice: never with acid or ammonia
    text = " ".join(shipped().sheet_cautions("chlorine", "thiosulfate"))
    assert all(word in text for word in ("acid", "ammonia", "gloves", "label", "local law"))


def test_a_sheet_prints_no_cautions_of_materials_it_does_not_use() -> None:
    assert not any("opper" in sentence for sentence in shipped().sheet_cautions("alum"))


def test_the_statement_says_that_it_is_no_guarantee_and_what_it_speaks_of() -> None:
    text = " ".join(shipped().statement_cautions())
    assert "no guarantee" in text
    assert "only of the pests named" in text
