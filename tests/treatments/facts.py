"""Facts of treatments for tests of their rules, by the day after one fixed start."""

from datetime import UTC, datetime, timedelta
from typing import Any

from service.reference.loader import shipped
from service.treatments.rules import DoseFact, StepFact, TreatmentFact

START = datetime(2026, 3, 2, 9, tzinfo=UTC)


def at(days: float) -> datetime:
    """So many days after the start."""
    return START + timedelta(days=days)


def fact(protocol: str, *, ended: float | None = None, **changes: Any) -> TreatmentFact:
    """A treatment by a shipped protocol, running unless it ended on a day."""
    content = shipped().protocols[protocol].content()
    given: dict[str, Any] = {
        "treatment_id": "t",
        "method": content["method"],
        "protocol_code": protocol,
        "number": 1,
        "content": content,
        "state": "running" if ended is None else "finished",
        "started_at": START,
        "ended_at": None if ended is None else at(ended),
        **changes,
    }
    return TreatmentFact(**given)


def soak(started: float | None, finished: float | None, departure: str | None = None) -> StepFact:
    """The killing step of a treatment, from day to day; None is not yet."""
    return StepFact(
        2,
        "soak",
        None if started is None else at(started),
        None if finished is None else at(finished),
        departure,
    )


def doses(*days: float, mg_per_l: float = 0.4) -> tuple[DoseFact, ...]:
    """Doses of copper on these days."""
    return tuple(DoseFact(at(days_), mg_per_l) for days_ in days)


def readings(**values: float) -> tuple[tuple[datetime, float], ...]:
    """Readings by day: `d1=0.4` is 0.4 mg/L on day 1."""
    return tuple((at(float(name[1:])), value) for name, value in values.items())


COURSE = (0, 3, 7, 10)


def credited(**changes: Any) -> TreatmentFact:
    """An alum soak as if its evidence were good: grade A, a kill of 0.99."""
    found = fact("alum-soak", **changes)
    credits = [{**credit, "grade": "A", "kill": 0.99} for credit in found.content["credits"]]
    return fact("alum-soak", content={**found.content, "credits": credits}, **changes)
