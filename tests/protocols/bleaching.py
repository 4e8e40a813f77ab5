"""Bleach of today and a dip in it, for tests."""

from datetime import UTC, datetime
from typing import Any

from tests.api import Api
from tests.make_protocols import dip, written
from tests.make_stores import bleach

TODAY = datetime.now(UTC).date()


def bleach_dip(api: Api, mg_per_l: float = 2678) -> str:
    """The code of a written dip in bleach, neutralised with thiosulfate."""
    neutraliser = {
        "material": "thiosulfate",
        "agent": "sodium_thiosulfate_pentahydrate",
        "with_material": "sodium-bicarbonate",
    }
    body = dip("own-bleach-dip", "bleach", "chlorine", mg_per_l, neutraliser=neutraliser)
    return str(written(api, body)["protocol"])


def labelled(api: Api, percent: float, **changes: Any) -> Any:
    """A can of bleach made today, of so many per cent NaOCl by mass."""
    strength = {"value": percent, "basis": "naocl_ww"}
    return bleach(api, strength=strength, made_on=TODAY.isoformat(), **changes)
