"""Writing treatments down: a protocol, and further versions of it."""

from collections.abc import Mapping
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.catalogue.queries import pest_figures
from service.core.errors import Invalid, Refused
from service.journal.actions import record
from service.journal.acts import Act
from service.protocols import queries
from service.protocols.models import Protocol, ProtocolVersion
from service.protocols.rules_content import content_reasons


def add_protocol(session: Session, act: Act, facts: Mapping[str, Any]) -> tuple[Protocol, ProtocolVersion]:
    """Write a protocol with version 1; Refused when the code is taken, Invalid when it makes no sense."""
    if session.scalar(select(Protocol.id).where(Protocol.code == facts["code"])) is not None:
        raise Refused("name-taken", f"There is already a protocol with the code {facts['code']}.")
    _check(session, facts)
    protocol = Protocol(code=facts["code"], method=facts["method"], name=facts["name"], created_at=act.now)
    session.add(protocol)
    session.flush()
    version = _version(session, act, protocol, 1, facts)
    record(session, act, "protocol.added", [protocol], after={"code": protocol.code, "version": 1})
    return protocol, version


def add_version(
    session: Session, act: Act, protocol: Protocol, facts: Mapping[str, Any]
) -> tuple[Protocol, ProtocolVersion]:
    """Write the next version of a (locked) protocol; earlier ones stay as they are."""
    _check(session, facts)
    number = queries.latest_number(session, protocol) + 1
    version = _version(session, act, protocol, number, facts)
    before, protocol.name = {"version": number - 1}, facts["name"]
    record(session, act, "protocol.version_added", [protocol], before=before, after={"version": number})
    return protocol, version


def _check(session: Session, facts: Mapping[str, Any]) -> None:
    reasons = content_reasons(facts, queries.substances(session), pest_figures(session))
    if reasons:
        raise Invalid("validation", "Some values are wrong; see errors.", reasons)


def _version(
    session: Session, act: Act, protocol: Protocol, number: int, facts: Mapping[str, Any]
) -> ProtocolVersion:
    content = {**facts, "code": protocol.code, "version": number, "method": protocol.method}
    version = ProtocolVersion(
        protocol_id=protocol.id, number=number, content=content, created_at=act.now, created_by=act.by
    )
    session.add(version)
    session.flush()
    return version
