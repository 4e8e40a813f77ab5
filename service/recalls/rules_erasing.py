"""What of a customer is taken out of answers that were kept for repeated requests. Pure."""

from collections.abc import Collection, Mapping
from typing import Any

ERASED = "[erased]"
FREE_TEXT = frozenset({"what", "note"})


def without(document: Any, reference: str, texts: Collection[str]) -> Any:
    """The document with this customer's reference and these texts of his taken out, wherever they stand."""
    if isinstance(document, Mapping):
        return {name: _kept(name, value, reference, texts) for name, value in document.items()}
    if isinstance(document, list):
        return [without(item, reference, texts) for item in document]
    return document


def _kept(name: str, value: Any, reference: str, texts: Collection[str]) -> Any:
    if name == "customer_ref" and value == reference:
        return None
    if name in FREE_TEXT and isinstance(value, str) and value in texts:
        return ERASED
    return without(value, reference, texts)
