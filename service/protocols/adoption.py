"""Taking protocols over from the reference data: a version that is there already never changes."""

from sqlalchemy import select
from sqlalchemy.orm import Session

from service.journal.actions import record
from service.journal.acts import Act
from service.protocols.models import Protocol, ProtocolVersion
from service.reference.loader import Reference


def adopt_protocols(session: Session, act: Act, reference: Reference) -> int:
    """Add every protocol version that is not there yet; gives how many."""
    known = {protocol.code: protocol for protocol in session.scalars(select(Protocol))}
    adopted = 0
    for code, written in reference.protocols.items():
        protocol = known.get(code)
        if protocol is None:
            protocol = Protocol(code=code, method=written.method, name=written.name, created_at=act.now)
            session.add(protocol)
            session.flush()
        numbers = select(ProtocolVersion.number).where(ProtocolVersion.protocol_id == protocol.id)
        if written.version in set(session.scalars(numbers)):
            continue
        session.add(
            ProtocolVersion(
                protocol_id=protocol.id,
                number=written.version,
                content=written.content(),
                reference_version=reference.version,
                created_at=act.now,
                created_by=act.by,
            )
        )
        record(session, act, "protocol.adopted", [protocol], after={"code": code, "version": written.version})
        adopted += 1
    return adopted
