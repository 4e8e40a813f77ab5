"""Every text of the pages goes through gettext, so that a language is one file more and no code."""

import re
from collections.abc import Iterator
from io import BytesIO
from pathlib import Path

import pytest
from babel.messages.catalog import Catalog
from babel.messages.extract import extract_from_dir
from babel.messages.mofile import write_mo

from service.core.db import Database
from service.core.house import House
from tests.make_people import Browser, shown_text

CONSOLE = Path("service/console")
TEMPLATES = sorted(CONSOLE.glob("templates/**/*.html"))
METHODS = [("**.py", "python"), ("**.html", "jinja2.ext:babel_extract")]
PROGRAM = re.compile(r"\{#.*?#\}|\{%.*?%\}|\{\{.*?\}\}", re.S)
SAME_EVERYWHERE = {"Dipledger"}


def without_program(template: Path) -> str:
    return PROGRAM.sub("", template.read_text("utf-8"))


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: path.stem)
def test_no_template_holds_a_bare_text(template: Path) -> None:
    shown = re.sub(r"<[^>]*>", " ", without_program(template))
    assert set(re.findall(r"[^\W\d_]{3,}", shown)) - SAME_EVERYWHERE == set()


@pytest.mark.parametrize("template", TEMPLATES, ids=lambda path: path.stem)
def test_no_attribute_that_is_read_aloud_holds_a_bare_text(template: Path) -> None:
    spoken = re.findall(
        r'(?:aria-label|alt|title|placeholder)="([^"]*[^\W\d_]{3,}[^"]*)"', without_program(template)
    )
    assert spoken == []


@pytest.fixture
def mirrored(tmp_path: Path, browser: Browser, monkeypatch: pytest.MonkeyPatch) -> Iterator[Catalog]:
    """A language in which every text begins with a sign of its own."""
    catalog = Catalog(locale="de")
    for _, _, message, _, _ in extract_from_dir(CONSOLE, METHODS):
        many = message if isinstance(message, tuple) else (message,)
        catalog.add(message, tuple(f"¡{one}" for one in many) if len(many) > 1 else f"¡{many[0]}")
    folder = tmp_path / "de" / "LC_MESSAGES"
    folder.mkdir(parents=True)
    file = BytesIO()
    write_mo(file, catalog)
    (folder / "messages.mo").write_bytes(file.getvalue())
    babel = browser.client.application.extensions["babel"]
    monkeypatch.setattr(babel, "translation_directories", [str(tmp_path)])
    babel.instance.domain_instance.cache.clear()
    yield catalog
    babel.instance.domain_instance.cache.clear()


def test_a_language_is_added_by_one_file(owner: Browser, database: Database, mirrored: Catalog) -> None:
    assert len(mirrored) > 300
    with database.writing() as session:
        session.get_one(House, 1).locale = "de"
    page = owner.seen("/console/lots")
    assert '<html lang="de"' in page
    text = shown_text(page)
    for told in ("¡Round", "¡Lots", "¡When can I sell it?", "¡No lot is like this."):
        assert told in text


def test_numbers_and_days_are_written_as_the_house_writes_them(owner: Browser, database: Database) -> None:
    with database.writing() as session:
        session.get_one(House, 1).locale = "de"
    assert re.search(r"\b(Mo|Di|Mi|Do|Fr|Sa|So)\.? \d", shown_text(owner.seen("/console/round")))
