"""Tools: which waters they touched, and what was done to them in between."""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.core.errors import Invalid, NotFound, Refused
from service.journal.actions import record
from service.journal.acts import Act
from service.tubs.models import Tool, ToolDisinfection, ToolUse, Tub
from service.tubs.queries import same_water
from service.tubs.rules import Disinfection, breaks_contact, disinfection_reasons


@dataclass(frozen=True)
class Carried:
    """The other water a tool was last in, undisinfected since."""

    tub_id: str
    at: datetime


def add_tool(session: Session, act: Act, facts: Mapping[str, Any]) -> Tool:
    """Add a tool; refused when its code is taken."""
    if session.scalar(select(Tool.id).where(Tool.code == facts["code"])) is not None:
        raise Refused("name-taken", f"There is already a tool called {facts['code']}.")
    tool = Tool(code=facts["code"], kind=facts["kind"].value, created_at=act.now)
    session.add(tool)
    record(session, act, "tool.added", [tool], after={"code": tool.code, "kind": tool.kind})
    return tool


def tool_by_id(session: Session, tool_id: str) -> Tool:
    """One tool, locked; raises NotFound."""
    found = session.get(Tool, tool_id, with_for_update=True)
    if found is None:
        raise NotFound("tool")
    return found


def use(session: Session, act: Act, tool: Tool, tub: Tub) -> Carried | None:
    """A tool touches the water of a tub; gives the other water that it carried there, if any."""
    carried = _carried(session, tool, tub, act.at)
    session.add(ToolUse(tool_id=tool.id, tub_id=tub.id, at=act.at, recorded_at=act.now, by=act.by))
    after: dict[str, Any] = {"tub_id": tub.id, "contact": carried is not None}
    if carried is not None:
        after |= {"from_tub_id": carried.tub_id, "from_at": carried.at}
    record(session, act, "tool.used", [tool, tub], after=after)
    return carried


def disinfect(session: Session, act: Act, tool: Tool, facts: Mapping[str, Any]) -> bool:
    """A tool is treated; gives whether that breaks the contact with the waters it was in."""
    method = facts["method"]
    reasons = disinfection_reasons(method, facts["celsius"])
    if reasons:
        raise Invalid(reasons[0].code, reasons[0].detail, reasons)
    breaks = breaks_contact(method, facts["celsius"], facts["minutes"])
    session.add(
        ToolDisinfection(
            tool_id=tool.id,
            at=act.at,
            method=method.value,
            celsius=facts["celsius"],
            minutes=facts["minutes"],
            recorded_at=act.now,
            by=act.by,
        )
    )
    record(session, act, "tool.disinfected", [tool], after={**facts, "breaks_contact": breaks})
    return breaks


def _carried(session: Session, tool: Tool, tub: Tub, at: datetime) -> Carried | None:
    here = same_water(session, [tub.id])
    last = session.execute(
        select(ToolUse.tub_id, ToolUse.at)
        .where(ToolUse.tool_id == tool.id, ToolUse.at <= at, ToolUse.tub_id.not_in(here))
        .order_by(ToolUse.at.desc())
        .limit(1)
    ).one_or_none()
    if last is None or _broken(session, tool, last.at, at):
        return None
    return Carried(last.tub_id, last.at)


def _broken(session: Session, tool: Tool, since: datetime, until: datetime) -> bool:
    done = session.scalars(
        select(ToolDisinfection).where(
            ToolDisinfection.tool_id == tool.id, ToolDisinfection.at.between(since, until)
        )
    )
    return any(breaks_contact(Disinfection(entry.method), entry.celsius, entry.minutes) for entry in done)
