"""What sales does when a certificate is revoked: say which orders have plants of the lot."""

from sqlalchemy.orm import Session

from service.journal.actions import Note, record
from service.lots.models import Lot
from service.sales.queries import orders_with


def on_revoked(session: Session, note: Note) -> None:
    """Write which orders must be told (kind "certificate.revoked")."""
    for lot in [thing for thing in note.about if isinstance(thing, Lot)]:
        orders = orders_with(session, lot.id)
        if orders:
            record(session, note.act, "lot.customers_to_tell", [lot], after={"orders": orders})
