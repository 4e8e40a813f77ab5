"""Photos of a shipment and of a supplier's papers, also as PDF: evidence, never a decision."""

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy.orm import Session

from service.intake import queries
from service.intake.models import Shipment
from service.journal.actions import record
from service.journal.acts import Act
from service.photos.actions import add_photos, void_photo
from service.photos.rules import MOST_OF_ONE_SHIPMENT


def add_to_shipment(
    session: Session, act: Act, shipment: Shipment, told: Sequence[Mapping[str, Any]]
) -> None:
    """Add photos or papers to a locked shipment, expected or here; raises as `add_photos`."""
    rows = [{"sha256": row["sha256"], "label": row["kind"]} for row in told]
    photos = add_photos(session, act, shipment.id, rows, most=MOST_OF_ONE_SHIPMENT, papers=True)
    after = {"code": shipment.code, "photos": photos}
    record(session, act, "shipment.photographed", [shipment], after=after)


def void_photo_of_shipment(session: Session, act: Act, shipment_id: str, told: Mapping[str, Any]) -> Shipment:
    """Hide a photo or paper of a shipment that is wrong, with the reason; raises as `void_photo`."""
    shipment = queries.shipment_by_id(session, shipment_id, lock=True)
    void_photo(session, act, shipment.id, told)
    after = {"code": shipment.code, **told}
    record(session, act, "shipment.photo_voided", [shipment], after=after)
    return shipment
