"""Whether units of a lot may leave the house."""

from collections.abc import Sequence

from service.core.reasons import Reason


def dispatch_reasons(state: str, hold_causes: Sequence[str], *, certificate_valid: bool) -> list[Reason]:
    """Why a lot may not be sold from: it must be cleared, unheld, and its certificate valid."""
    reasons = []
    if state != "cleared":
        detail = f"Only cleared lots are sold; this one is {state.replace('_', ' ')}."
        reasons.append(Reason("not-cleared", detail, needed="cleared", have=state))
    elif not certificate_valid:
        reasons.append(Reason("certificate-not-valid", "The certificate of this lot is not valid any more."))
    return reasons + [Reason("held", f"The lot is on hold: {cause}.", have=cause) for cause in hold_causes]
