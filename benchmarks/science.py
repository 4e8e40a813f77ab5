"""The arrays of the science against the plain loop over the same lots: same answers, less time."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from decimal import Decimal

import numpy as np
from numpy.typing import ArrayLike

from service.science import arrays, freedom, sampling, sampling_arrays
from service.science.thermal import Development, rate, share_hatched

LOTS = 1000
HOURS = 24 * 60
SNAIL = Development("bladder_snail", 9, 136, 8.5, 25, None, 28, 34)


@dataclass(frozen=True)
class Case:
    """The same question asked lot by lot and for all lots at once."""

    id: str
    what: str
    loop: Callable[[], ArrayLike]
    at_once: Callable[[], ArrayLike]

    def same(self) -> bool:
        """Whether both ways answer alike."""
        return bool(np.allclose(np.asarray(self.loop(), float), np.asarray(self.at_once(), float)))


def cases() -> Iterator[Case]:
    """Degree-days, share hatched, sample sizes, and the chance that none is left."""
    random = np.random.default_rng(20260302)
    celsius = random.uniform(5, 36, (50, HOURS))
    yield Case(
        "S1",
        f"degree-days of 50 tubs, {HOURS} hours",
        lambda: [sum(rate(value, SNAIL) for value in tub) / 24 for tub in celsius.tolist()],
        lambda: arrays.hourly_degree_days(celsius, SNAIL)[:, -1],
    )
    credit = random.uniform(0, 400, LOTS)
    yield Case(
        "S2",
        f"share hatched in {LOTS} lots",
        lambda: [share_hatched(value, SNAIL) for value in credit.tolist()],
        lambda: arrays.shares_hatched(credit, SNAIL.thermal_constant_dd),
    )
    sizes = random.integers(20, 500, LOTS)
    confidence = Decimal("0.95")
    yield Case(
        "S3",
        f"sample sizes of {LOTS} lots, sensitivity 0.8",
        lambda: [sampling.sample_size(int(size), 5, confidence, 0.8) or -1 for size in sizes],
        lambda: sampling_arrays.sample_sizes(sizes, 5, confidence, 0.8),
    )
    yield _freedom(random)


def _freedom(random: np.random.Generator) -> Case:
    lots, looks = 100, 10
    hatched = np.sort(random.uniform(0, 500, (lots, looks)))
    misses = random.uniform(0.2, 1, (lots, looks, 3))

    def chances(index: slice | int) -> freedom.Floats:
        unseen = freedom.unseen_shares(
            136.0,
            hatched[index],
            hatched[index] - 133,
            misses[index],
            hidden_young=0.05,
            hidden_grown=0.01,
        )
        return freedom.probability_of_freedom(np.full((*unseen.shape[:-1], 1), 0.25), unseen[..., None, :])

    return Case(
        "S4",
        f"chance that none is left in {lots} lots, {looks} looks",
        lambda: [float(chances(lot)) for lot in range(lots)],
        lambda: chances(slice(None)),
    )
