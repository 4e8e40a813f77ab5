"""Official words and marks: none on anything we print or show, and none gets in by a name.

The words: ISPM 5 and ISPM 12 (FAO/IPPC) and Regulation (EU) 2016/2031, Annex VII; those of other languages
from memory.
"""

import re

import pytest

from service.clearance.rules_words import DECLARATION, TITLE, official_words, printed, word_reasons
from service.core.db import Database
from tests.api import Api
from tests.journeys.bench import Bench
from tests.unchanged import unchanged

# Written apart from the rule's own pattern, so that a hole in that one is seen.
NEVER = (
    "phyto",
    "passport",
    "passeport",
    "certificat",
    "certified",
    "nppo",
    "ippc",
    "ispm",
    "eppo",
    "authority",
    "government",
    "ministry",
    "european union",
    "additional declaration",
    "snail-free",
    "guaranteed",
)
BLOCK = re.compile(r"^\s*[ABCD][.:)]?\s", re.MULTILINE)  # the lettered fields of a plant passport
FLAG = re.compile("[\U0001f1e6-\U0001f1ff\u2690\u2691]")


def held_against_official_words(text: str) -> None:
    """Fail when a text that we print uses words or marks of official documents."""
    rest = re.sub(r"\s+", " ", text).replace(DECLARATION, "").lower()
    assert [word for word in (*NEVER, "official") if word in rest] == []
    assert BLOCK.search(text) is None
    assert FLAG.search(text) is None


def seen_on(page: str) -> str:
    """What a person reads on a page, without the signed text and the style."""
    shown = re.sub(r"(?s)<style>.*?</style>|<code>.*?</code>", "", page)
    return re.sub(r"<[^>]+>", "\n", shown).replace("&#39;", "'")


@pytest.mark.parametrize(
    "word",
    [
        "Phytosanitary Certificate",
        "certificat phytosanitaire",
        "Fitosanitario",
        "Plant Passport",
        "plant-passport",
        "PLANT PASSPORT — PZ",
        "Plantenpaspoort",
        "Pflanzenpass",
        "passeport phytosanitaire",
        "plant health certificate",
        "Additional Declaration",
        "National Plant Protection Organization",
        "approved by the IPPC",
        "an official inspection",
        "Ministry of Plants",
        "\U0001f1ea\U0001f1fa",
    ],
)
def test_an_official_word_is_found_in_any_text(word: str) -> None:
    assert official_words(["Java fern", f"x {word} y"])


@pytest.mark.parametrize(
    "text", [DECLARATION, TITLE, "Anubias barteri", "Passionate Plants", "officinalis", "Administration Lane"]
)
def test_ordinary_names_and_the_declaration_are_no_official_words(text: str) -> None:
    assert official_words([text]) == []


def test_each_word_is_named_once_with_what_to_do() -> None:
    [reason] = word_reasons(["Plant Passport", "a plant passport"])
    assert (reason.code, reason.have) == ("official-words", "plant passport")
    assert "Change the name or text" in reason.detail


def test_texts_are_found_however_deep_they_lie() -> None:
    assert list(printed({"a": ["x", {"b": "y"}], "c": 3, "d": None})) == ["x", "y"]


def test_the_public_page_uses_no_official_word_whatever_its_status(
    api: Api, bench: Bench, cleared: str
) -> None:
    serial = bench.see(cleared)["certificate_serial"]
    pages = [api.nobody.get(f"/c/{serial}").get_data(as_text=True)]
    api.seller.made(f"/lots/{cleared}/holds", {"cause": "complaint", "reason": "a photo"})
    pages.append(api.nobody.get(f"/c/{serial}").get_data(as_text=True))
    api.manager.made(f"/certificates/{serial}/revocation", {"reason": "a customer found one"})
    pages.append(api.nobody.get(f"/c/{serial}").get_data(as_text=True))
    assert len(set(pages)) == 3
    for page in pages:
        held_against_official_words(seen_on(page))
        assert DECLARATION in seen_on(page)
        assert TITLE in seen_on(page)


def test_a_name_with_an_official_word_stops_the_clearance_and_nothing_changes(
    api: Api, bench: Bench, database: Database
) -> None:
    lot = bench.ready_lot()
    tag = api.owner.get("/settings").headers["ETag"]
    name = {"issuer_name": "Fenmarsh Phytosanitary Office"}
    assert api.owner.send("PATCH", "/settings", name, headers={"If-Match": tag}).status_code == 200
    with unchanged(database):
        refused = bench.clear(lot)
    assert refused.status_code == 409
    assert [reason["code"] for reason in refused.get_json()["reasons"]] == ["official-words"]
    assert "phytosanitary" in refused.get_json()["detail"]
