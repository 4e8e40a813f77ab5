"""When cups of plants grown in vitro count as sealed: lid whole, gel clean, and no water ever near."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from service.core.reasons import Reason
from service.inspections.rules import Find
from service.lots.rules import UnitOfSale


@dataclass(frozen=True)
class Cups:
    """A lot as far as it may be one of sealed cups; `wet`: it was in a tub, or away."""

    unit_of_sale: str
    in_vitro: bool
    wet: bool
    opened_at: datetime | None


def sealed_reasons(cups: Cups, sample: int, there: int, findings: Sequence[Find]) -> list[Reason]:
    """Why a look does not show sealed cups."""
    reasons = []
    if cups.unit_of_sale != UnitOfSale.CUP:
        reasons.append(_reason("The lot is not sold in cups.", "cup", cups.unit_of_sale))
    if not cups.in_vitro:
        reasons.append(_reason("The supplier is not known to grow in vitro (in_vitro of the supplier)."))
    if cups.wet:
        reasons.append(
            _reason("The lot was in a tub, or away at a customer's: no such cup counts as sealed.")
        )
    if cups.opened_at is not None:
        reasons.append(_reason("The cups were opened.", have=cups.opened_at.isoformat()))
    if sample != there:
        detail = "Every cup is looked at; write off or split off those that are not whole."
        reasons.append(Reason("not-every-cup", detail, there, sample, "#/sample_size"))
    if any(find.live for find in findings):
        detail = "Where something lives in a cup it is not sealed: enter a look by eye."
        reasons.append(Reason("not-sealed", detail, pointer="#/findings"))
    return reasons


def _reason(detail: str, needed: str | None = None, have: str | None = None) -> Reason:
    return Reason("not-sealed", detail, needed, have, "#/method")
