"""Tools: which waters they touched, and whether that carried one water into another."""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.core.errors import Invalid, NotFound, Refused
from service.core.rows import Listing, Rows, of
from service.journal.actions import record
from service.journal.acts import Act
from service.tubs.models import Tool, ToolDisinfection, ToolUse
from service.tubs.queries import tub_by_id
from service.tubs.rules import Disinfection, breaks_contact, disinfection_reasons
from service.tubs.waters import water_at, waters_of

TOOL = Rows(of(Tool, "id", "code", "kind", "created_at", "version"))
TOOLS = Listing(TOOL, ("code",))


def tool_view(session: Session, tool: Tool, now: datetime) -> dict[str, Any]:
    """One tool as answered, with the tub whose water it carries."""
    carried = last_water(session, tool.id, now)
    return {**TOOL.show(tool), "carries_water_of": None if carried is None else carried.tub_id}


def tool_by_id(session: Session, tool_id: str, *, lock: bool = False) -> Tool:
    """One tool; raises NotFound."""
    found = session.get(Tool, tool_id, with_for_update=lock or None)
    if found is None:
        raise NotFound("tool")
    return found


def last_water(session: Session, tool_id: str, at: datetime, before: str | None = None) -> ToolUse | None:
    """The last use up to a moment, None when its contact was broken since; `before` leaves a use out."""
    uses = select(ToolUse).where(ToolUse.tool_id == tool_id, ToolUse.at <= at, ToolUse.id != before)
    last = session.scalars(uses.order_by(ToolUse.at.desc(), ToolUse.id.desc()).limit(1)).one_or_none()
    return None if last is None or _broken(session, tool_id, last.at, at) else last


def add_tool(session: Session, act: Act, facts: Mapping[str, Any]) -> Tool:
    """Add a tool; refused when its code is taken."""
    if session.scalar(select(Tool.id).where(Tool.code == facts["code"])) is not None:
        raise Refused("name-taken", f"There is already a tool with the code {facts['code']}.")
    tool = Tool(created_at=act.now, **facts)
    session.add(tool)
    record(session, act, "tool.added", [tool], after=facts)
    return tool


def use_tool(session: Session, act: Act, tool: Tool, tub_id: str) -> dict[str, Any]:
    """A tool touches the water of a tub; gives what it carried there (`_carried`).

    When its last water was another and nothing broke the contact, that reaches every lot in the tub:
    rooms above are told by "tool.used". A use entered late is also held against the next one after it.
    """
    try:
        tub = tub_by_id(session, tub_id)
    except NotFound as missing:
        raise Invalid.at("#/tub_id", missing.detail, code="unknown-tub") from missing
    following = _next_use(session, tool.id, act.at)
    use = ToolUse(tool_id=tool.id, tub_id=tub.id, at=act.at, recorded_at=act.now, by=act.by)
    session.add(use)
    session.flush()
    carried = _carried(session, use)
    # Not about the tub: its row would be locked before those of its lots, which are always locked first.
    record(session, act, "tool.used", [tool], after=carried)
    if following is not None:
        _judge_again(session, act, tool, following)
    return {"id": use.id, "tool_id": tool.id, "at": use.at, **carried}


def disinfect(session: Session, act: Act, tool: Tool, facts: Mapping[str, Any]) -> dict[str, Any]:
    """A tool was treated so that it carries nothing on, or was meant to; gives whether it counts.

    One entered late undoes no contact that was told before: less evidence never clears earlier.
    """
    method = Disinfection(facts["method"])
    reasons = disinfection_reasons(method, facts["celsius"])
    if reasons:
        raise Invalid(reasons[0].code, reasons[0].detail, reasons)
    done = ToolDisinfection(tool_id=tool.id, at=act.at, recorded_at=act.now, by=act.by, **facts)
    session.add(done)
    session.flush()
    counts = breaks_contact(method, facts["celsius"], facts["minutes"])
    record(session, act, "tool.disinfected", [tool], after={**facts, "breaks_contact": counts})
    return {"id": done.id, "tool_id": tool.id, "at": done.at, **facts, "breaks_contact": counts}


def _carried(session: Session, use: ToolUse) -> dict[str, Any]:
    before = last_water(session, use.tool_id, use.at, use.id)
    contact = before is not None and _other_water(session, before, use)
    return {
        "contact": contact,
        "tub_id": use.tub_id,
        "from_tub_id": before.tub_id if before is not None and contact else None,
        "from_at": before.at if before is not None and contact else None,
    }


def _other_water(session: Session, before: ToolUse, use: ToolUse) -> bool:
    waters = waters_of(session, {before.tub_id, use.tub_id})
    return water_at(waters[before.tub_id], before.at) != water_at(waters[use.tub_id], use.at)


def _judge_again(session: Session, act: Act, tool: Tool, following: ToolUse) -> None:
    carried = _carried(session, following)
    if carried["contact"] and carried["from_at"] == act.at:
        record(session, act.moved(following.at), "tool.used", [tool], after=carried)


def _next_use(session: Session, tool_id: str, at: datetime) -> ToolUse | None:
    uses = select(ToolUse).where(ToolUse.tool_id == tool_id, ToolUse.at > at)
    return session.scalars(uses.order_by(ToolUse.at, ToolUse.id).limit(1)).one_or_none()


def _broken(session: Session, tool_id: str, since: datetime, until: datetime) -> bool:
    rows = session.execute(
        select(ToolDisinfection.method, ToolDisinfection.celsius, ToolDisinfection.minutes).where(
            ToolDisinfection.tool_id == tool_id,
            ToolDisinfection.at > since,  # at the same moment it may have come first
            ToolDisinfection.at <= until,
        )
    ).all()
    return any(breaks_contact(Disinfection(row.method), row.celsius, row.minutes) for row in rows)
