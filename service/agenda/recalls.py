"""Due work of recalls and complaints: what must be looked at again, who must be told."""

from collections.abc import Iterator

from sqlalchemy.orm import Session

from service.agenda.rules import Kind
from service.agenda.work import Work
from service.recalls.owed import owed_looks, owed_notices


def recall_work(session: Session) -> Iterator[Work]:
    """The looks and notices that open recalls and complaints owe."""
    for look in owed_looks(session):
        yield Work(
            Kind.INSPECT,
            f"{look.cause_id}/{look.lot_id}",
            look.due_at,
            f"Look again at {look.lot_code}",
            look.why,
            look.tub_id,
            (look.lot_id,),
        )
    for owed in owed_notices(session):
        title = f"Tell the customers of {owed.dispatches} dispatches of the recall"
        detail = f"GET /recalls/{owed.recall_id}/customers lists them."
        yield Work(Kind.TELL, owed.recall_id, owed.due_at, title, detail, None, ())
