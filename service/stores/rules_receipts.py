"""What is asked before a delivery is taken in, and what follows from what was said of it."""

from collections.abc import Sequence
from datetime import date

from service.core.reasons import Reason

DUPLICATE = "duplicate-batch-number"


def duplicate_number(number: str, known: Sequence[tuple[str, date]]) -> list[Reason]:
    """Why a supplier's batch number must be confirmed: the material has it, whatever its case and spaces."""
    same = [came for other, came in known if _plain(other) == _plain(number)]
    if not same:
        return []
    detail = (
        f"Batch number {number} of this material was received on {same[-1].isoformat()} already."
        " If this is one more container of it, send confirm_duplicate: true; otherwise correct batch_number."
    )
    return [Reason(DUPLICATE, detail, "confirm_duplicate", number, "#/batch_number")]


def containers(base_units: int, size: int) -> int:
    """Into how many containers of a size an amount goes (both in uL or mg), the last one perhaps not full."""
    return -(-base_units // size)


def _plain(number: str) -> str:
    return " ".join(number.split()).casefold()
