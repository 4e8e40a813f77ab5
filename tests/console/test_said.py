"""Texts are looked up once a language; what people typed never becomes part of a page's own markup."""

from collections.abc import Iterator

import pytest
from flask import Flask, g
from markupsafe import Markup

from service.console.door import Bench
from service.console.said import icon, later, say, shown, shown_many
from tests.api import Contract


@pytest.fixture(autouse=True)
def page(served: tuple[Flask, Contract]) -> Iterator[None]:
    with served[0].test_request_context("/console/round"):
        g.bench = Bench(None, "", "UTC", "en", "si")
        yield


def test_what_stands_in_a_text_is_escaped_and_the_text_is_not() -> None:
    assert shown("Lot <b>%(code)s</b>", code="<i>") == Markup("Lot <b>&lt;i&gt;</b>")
    assert shown_many("%(num)d <b>", "%(num)d of %(what)s", 2, what="<i>") == Markup("2 of &lt;i&gt;")
    assert shown_many("%(num)d lot", "%(num)d lots", 1) == "1 lot"


def test_a_doubled_per_cent_sign_is_one() -> None:
    assert shown("its 95 %% limits") == "its 95 % limits"
    assert shown("%(n)d %% of it", n=5) == "5 % of it"


def test_a_text_for_later_is_said_when_it_is_shown() -> None:
    assert str(later("Lots")) == say("Lots") == "Lots"


def test_an_icon_is_the_same_markup_again() -> None:
    assert 'href="/console/static/icons.svg#eye"' in icon("eye")
    assert icon("eye") is icon("eye")
