"""What may come back of a dispatch: no more than it sent, and never as what it was."""

from collections.abc import Mapping, Sequence
from typing import Any

from service.core.reasons import Reason


def return_reasons(
    lines: Sequence[Mapping[str, Any]], sent: Mapping[str, int], back: Mapping[str, int]
) -> list[Reason]:
    """Why these units cannot come back; `sent` and `back` are units by lot: sent, and returned before."""
    reasons, named = [], set()
    for n, line in enumerate(lines):
        lot_id, pointer = line["lot_id"], f"#/lines/{n}"
        if lot_id in named:
            reasons.append(Reason("named-twice", "This lot is named twice.", pointer=f"{pointer}/lot_id"))
        elif lot_id not in sent:
            detail = "The dispatch had nothing of this lot."
            reasons.append(Reason("not-sent", detail, pointer=f"{pointer}/lot_id"))
        else:
            out = sent[lot_id] - back.get(lot_id, 0)
            if line["quantity"] > out:
                detail = f"Only {out} of this lot are still with the customer."
                reasons.append(Reason("more-than-sent", detail, out, line["quantity"], f"{pointer}/quantity"))
        named.add(lot_id)
    return reasons


def returned_code(code: str, returns: int) -> str:
    """The code of the next lot that comes back of one that `returns` came back of before."""
    return f"{code}-R{returns + 1}"
