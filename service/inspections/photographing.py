"""Photos that come after their look, or were wrong: what was seen does not change, it is only shown."""

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy.orm import Session

from service.core.errors import Refused
from service.inspections import queries
from service.inspections.models import Inspection
from service.journal.actions import record
from service.journal.acts import Act, not_before
from service.photos.actions import add_photos, void_photo


def add_to_look(
    session: Session, act: Act, inspection_id: str, told: Sequence[Mapping[str, Any]]
) -> Inspection:
    """Add photos to a look; raises Invalid when one is not kept, Refused when the look is void."""
    inspection = queries.inspection_by_id(session, inspection_id, lock=True)
    if inspection.voided_at is not None:
        raise Refused("already-voided", "This look is void: enter the right one, with its photos.")
    not_before(act.at, inspection.at, "the look")
    photos = add_photos(session, act, inspection.id, told)
    after = {"inspection_id": inspection.id, "photos": photos}
    record(session, act, "inspection.photographed", [inspection], after=after)
    return inspection


def void_photo_of_look(session: Session, act: Act, inspection_id: str, told: Mapping[str, Any]) -> Inspection:
    """Hide a photo of a look that is wrong, with the reason; raises as `void_photo`."""
    inspection = queries.inspection_by_id(session, inspection_id, lock=True)
    void_photo(session, act, inspection.id, told)
    after = {"inspection_id": inspection.id, **told}
    record(session, act, "inspection.photo_voided", [inspection], after=after)
    return inspection
