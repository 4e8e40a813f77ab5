"""Numbers that the database knows and an owner wants to be warned by, read anew at every scrape of /metrics.

A room above says how its number is read; the application is given the list (service.wiring.MEASURES).
"""

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from prometheus_client import CollectorRegistry, generate_latest
from prometheus_client.core import GaugeMetricFamily
from sqlalchemy.orm import Session

Read = Callable[[Session, datetime], Mapping[str, float]]


@dataclass(frozen=True)
class Measure:
    """A number for each value of a label, such as each kind of job; it is 0 for those that are not named."""

    name: str
    says: str
    label: str
    read: Read


@dataclass(frozen=True)
class _Reading:
    """The measures as Prometheus collects them."""

    session: Session
    measures: Sequence[Measure]
    now: datetime

    def describe(self) -> Iterable[GaugeMetricFamily]:
        return ()  # or registering would read them all

    def collect(self) -> Iterator[GaugeMetricFamily]:
        for measure in self.measures:
            family = GaugeMetricFamily(measure.name, measure.says, labels=[measure.label])
            for value, number in sorted(measure.read(self.session, self.now).items()):
                family.add_metric([value], number)
            yield family


def text_of(session: Session, measures: Sequence[Measure], now: datetime) -> bytes:
    """The measures as Prometheus text."""
    registry = CollectorRegistry()
    registry.register(_Reading(session, measures, now))
    return generate_latest(registry)
