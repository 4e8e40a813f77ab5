"""A piece of due work."""

from dataclasses import dataclass
from datetime import datetime

from service.agenda.rules import Kind


@dataclass(frozen=True)
class Work:
    """One piece of work before it is answered; `subject` is what tells it from others of its kind."""

    kind: Kind
    subject: str
    due_at: datetime
    title: str
    detail: str
    tub_id: str | None
    lot_ids: tuple[str, ...]
    treatment_id: str | None = None
    step: int | None = None
    fraction: float | None = None
    redose: bool | None = None
