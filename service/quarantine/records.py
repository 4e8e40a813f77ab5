"""The record of each supplier: how his lots came, and in which of them a pest escaped."""

from collections.abc import Sequence
from datetime import datetime

from sqlalchemy.orm import Session

from service.catalogue.queries import pest_figures
from service.quarantine.arrivals import Arrival, arrivals
from service.quarantine.rules_escapes import with_escapes
from service.quarantine.rules_prior import Record
from service.quarantine.rules_suspects import arrival_record
from service.reference.loader import shipped

MOST_ARRIVALS = 50  # the newest; a supplier changes


def records(
    session: Session, supplier_id: str, *, until: datetime, at: datetime, without: str | None = None
) -> dict[str, Record]:
    """For each pest, how the lots of a supplier received up to `until` came, as known `at` a moment."""
    came = arrivals(session, supplier_id, until=until, at=at, most=MOST_ARRIVALS, without=without)
    pests = {pest for arrival in came for pest in arrival.found | arrival.escaped}
    return {pest: _record(came, pest) for pest in pests | set(pest_figures(session))}


def _record(came: Sequence[Arrival], pest: str) -> Record:
    looked = [(arrival.look_class, arrival.look) for arrival in came if arrival.look]
    escaped = [arrival for arrival in came if pest in arrival.escaped - arrival.found]
    looked_at = sum(arrival.look is not None for arrival in escaped)
    record = arrival_record(looked, pest, shipped().detection)
    return with_escapes(record, looked_at=looked_at, unseen=len(escaped) - looked_at)
