"""Words of official plant-health documents, which nothing that we print or show may use."""

import re
from collections.abc import Iterable, Iterator, Mapping
from typing import Any

from service.core.reasons import Reason

DECLARATION = "This is the seller's own statement. It is not an official plant-health document."
TITLE = "Snail-clearance statement"

# ISPM 5 and 12 (phytosanitary certificate, additional declaration, NPPO) and Regulation (EU) 2016/2031,
# Annex VII (the words "Plant Passport" in an official language and English). The other languages and the
# names of offices are from memory. The last one is a flag written in letters (Unicode regional indicators).
OFFICIAL = re.compile(
    r"ph?[yi]tosanit\w*|fitosanit\w*|\bphyto\b|plants?[\s-]*passports?|passports?\b|paszport\w*|"
    r"pass?aporte?\w*|passeport\w*|plantenpaspoort\w*|pflanzenpass\w*|pflanzengesundheit\w*|"
    r"plant[\s-]+health[\s-]+(?:certificates?|authorit\w+|inspect\w+)|additional declarations?|"
    r"plant protection (?:organi[sz]ations?|services?|offices?)|\b(?:nppo|ippc|ispm|eppo)\b|"
    r"\bofficial\w*|governments?\b|ministr(?:y|ies)\b|european union|[\U0001f1e6-\U0001f1ff]+",
    re.IGNORECASE,
)


def official_words(texts: Iterable[str]) -> list[str]:
    """The official words in some texts, in lower case, in order; our declaration may say what it is not."""
    found = (match[0].lower() for text in texts for match in OFFICIAL.finditer(text.replace(DECLARATION, "")))
    return list(dict.fromkeys(found))


def word_reasons(texts: Iterable[str]) -> list[Reason]:
    """Why these texts may not be printed on a statement or a label."""
    return [
        Reason(
            "official-words",
            f"'{word}' belongs to official documents. Change the name or text that it stands in.",
            have=word,
        )
        for word in official_words(texts)
    ]


def printed(claims: Any) -> Iterator[str]:
    """Every text in the claims of a statement, at whatever depth."""
    if isinstance(claims, str):
        yield claims
    elif isinstance(claims, Mapping):
        yield from printed(list(claims.values()))
    elif isinstance(claims, list):
        for claim in claims:
            yield from printed(claim)
