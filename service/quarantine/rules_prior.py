"""What a supplier's record makes one expect before a lot is looked at: one rule, for gates and reports."""

from dataclasses import dataclass

from service.science import freedom
from service.science.proportions import Interval

# A handful of clean lots is chance: fewer than these lower no expectation, while a find counts at once.
FEWEST_LOTS = 5  # assumption
IN_VITRO_BETA = 99.0  # of cups that were sealed: one lot in a hundred comes with a pest, assumption
TIE = 1e-9  # five lots are five, whatever the last bits say


@dataclass(frozen=True)
class Record:
    """Lots of a supplier at arrival: with a pest (made up for those a look misses), and without."""

    infested: float
    clean: float

    @property
    def lots(self) -> float:
        """How many lots it rests on."""
        return self.infested + self.clean


@dataclass(frozen=True)
class Prior:
    """The share of a supplier's lots that come with a pest, as Beta(alpha, beta), and the units expected."""

    alpha: float
    beta: float
    share: Interval
    expected_units: float
    clean_counts: bool


def prior_of(base_alpha: float, base_beta: float, record: Record) -> Prior:
    """The policy's Beta prior after a record: its infested lots, and the clean ones from `FEWEST_LOTS` on."""
    counts = record.lots >= FEWEST_LOTS - TIE
    clean = record.clean if counts else 0.0
    asked = (base_alpha, base_beta, record.infested, clean)
    return Prior(
        alpha=base_alpha + record.infested,
        beta=base_beta + clean,
        share=freedom.infested_share(*asked),
        expected_units=freedom.expected_from_record(*asked),
        clean_counts=counts,
    )
