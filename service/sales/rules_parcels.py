"""Whether a parcel may have a certificate of its own."""

from collections.abc import Sequence

from service.core.reasons import Reason


def parcel_reasons(lot_code: str, hold_causes: Sequence[str], *, certificate_valid: bool) -> list[Reason]:
    """Why nothing can be stated today of what a parcel has of this lot, sold out or not."""
    if not certificate_valid:
        detail = f"Lot {lot_code} has no valid certificate that this one could be part of."
        return [Reason("no-certificate", detail)]
    return [Reason("held", f"Lot {lot_code} is on hold: {cause}.", have=cause) for cause in hold_causes]
