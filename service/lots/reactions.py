"""What lots do when something happens to their water below."""

from datetime import datetime

from sqlalchemy.orm import Session

from service.journal.actions import Note
from service.lots.sharing import lots_in_water
from service.lots.stays import touch_by_tool


def on_tool_used(session: Session, note: Note) -> None:
    """A tool brought other water into a tub (kind "tool.used"): every lot there then has a contact.

    The note's `after`: contact, tub_id, from_tub_id, and from_at, when it was last in that other water
    (as late as possible when not said).
    """
    if not note.after["contact"]:
        return
    lots = lots_in_water(session, note.after["tub_id"], note.act.at)
    if lots:
        touched_at: datetime = note.after.get("from_at", note.act.at)
        touch_by_tool(session, note.act, lots, note.after["from_tub_id"], touched_at)
