"""Whether units of a lot may leave the house."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from service.core.reasons import Reason


@dataclass(frozen=True)
class Good:
    """Of a cleared lot: when its certificate runs out, and until when its last look speaks for it."""

    expires_at: datetime
    until: datetime


def dispatch_reasons(state: str, hold_causes: Sequence[str], good: Good | None, at: datetime) -> list[Reason]:
    """Why a lot may not be sold from at a moment: it must be cleared, unheld, and still good."""
    reasons = []
    if state != "cleared":
        detail = f"Only cleared lots are sold; this one is {state.replace('_', ' ')}."
        reasons.append(Reason("not-cleared", detail, needed="cleared", have=state))
    elif good is None or good.expires_at <= at:
        detail = "Its certificate has run out: move the lot to in_quarantine and decide anew."
        reasons.append(Reason("certificate-not-valid", detail))
    elif good.until <= at:
        detail = (
            "It has waited too long since it was looked at: a clean look that takes in enough units is owed."
        )
        reasons.append(Reason("look-overdue", detail, f"a clean look by {good.until.isoformat()}"))
    return reasons + [Reason("held", f"The lot is on hold: {cause}.", have=cause) for cause in hold_causes]
