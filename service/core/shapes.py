"""Small plain values that answers are made of."""

from dataclasses import dataclass
from decimal import Decimal

from service.science.amounts import Amount


@dataclass(frozen=True)
class ExactAmount:
    """An amount of the stock ledger, answered as decimal text so that nothing is rounded away."""

    amount: Amount

    @classmethod
    def of(cls, base_units: int, base_unit: str) -> "ExactAmount":
        """From the ledger's whole microlitres (`uL`) or milligrams (`mg`)."""
        return cls(Amount(Decimal(base_units), base_unit))
